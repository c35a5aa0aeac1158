"""The shape of a curled card: a sheet bent along its long edge, without stretch.

Paper and board bend along one direction and stretch along none (a developable surface). The profile is a parabola about
its mean plane: the axis' depth and slopes refer to that plane, so that a bend leaves them as they are.
"""

from __future__ import annotations

import numpy as np

from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM


def bent(points_mm: np.ndarray, bend_mm: float) -> np.ndarray:
    """Move points of the flat card, frame ``card``, to where they lie on the bent one.

    Parameters
    ----------
    points_mm : ndarray of shape (n, 3)
        Of the flat card; z = 0.
    bend_mm : float
        Distance of the card's ends before its middle, towards the viewer, mm; negative behind it.

    Returns
    -------
    ndarray of shape (n, 3)
    """
    t = (points_mm[:, 1] - S_ORIGIN_ON_CARD_MM) / S_ORIGIN_ON_CARD_MM
    out = points_mm.astype(float)
    # The arc keeps its length, so that its ends come closer: ∫ √(1 − z'²) dy ≈ y − ⅔ b² t³ / 84 mm.
    out[:, 1] -= 2 / 3 * bend_mm**2 * t**3 / S_ORIGIN_ON_CARD_MM
    out[:, 2] -= bend_mm * (t**2 - 1 / 3)
    return out


def bent_rates(points_mm: np.ndarray, bend_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Differentiate `bent` with respect to the bend and to the points' place along the card.

    Returns
    -------
    by_bend, by_y : ndarray of shape (n, 3)
    """
    half = S_ORIGIN_ON_CARD_MM
    t = (points_mm[:, 1] - half) / half
    by_bend, by_y = np.zeros((2, len(t), 3))
    by_bend[:, 1] = -4 / 3 * bend_mm * t**3 / half
    by_bend[:, 2] = -(t**2 - 1 / 3)
    by_y[:, 1] = 1 - 2 * (bend_mm * t / half) ** 2
    by_y[:, 2] = -2 * bend_mm * t / half
    return by_bend, by_y

"""The shaft beside the card, in a view of the card's plane that is as long as the shaft needs."""

from __future__ import annotations

import numpy as np

from calibration.camera import Camera
from calibration.pose import CardPose
from vision.geometry.views import FINDER_MORE_ROWS, FinderView, finder_view
from vision.shaft.find import ShaftGuess, find_shaft

# A longer view shows more of the shaft if an end lies so much farther out, mm: the finder errs by less behind coils.
FARTHER_MM = 30.0


def shaft_beside_card(
    pixels: np.ndarray, camera: Camera, pose: CardPose, diameter_mm: float, longer: bool = False
) -> tuple[FinderView, ShaftGuess]:
    """Find the shaft in the usual view, or in one that is longer where the shaft reaches its end, or where asked for.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    camera : Camera
    pose : CardPose
    diameter_mm : float
        Declared.
    longer : bool
        Look in the longer view at once: one that holds neither end of a shaft may show a part of it as the whole.

    Raises
    ------
    ShaftNotFound
    """
    view = finder_view(pixels, camera, pose, (FINDER_MORE_ROWS, FINDER_MORE_ROWS) if longer else (0, 0))
    guess = find_shaft(view, diameter_mm)
    if longer or not any(guess.cut):
        return view, guess
    view = finder_view(
        pixels, camera, pose, (FINDER_MORE_ROWS * guess.cut[0], FINDER_MORE_ROWS * guess.cut[1])
    )
    return view, find_shaft(view, diameter_mm)


def reaches_farther(longer: ShaftGuess, usual: ShaftGuess) -> bool:
    """Whether the longer view shows much more of the shaft than the usual one."""
    farther_mm = max(usual.y_low_mm - longer.y_low_mm, longer.y_high_mm - usual.y_high_mm)
    return farther_mm > FARTHER_MM

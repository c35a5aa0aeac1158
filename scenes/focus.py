"""Shallow focus: a shaft of which one end is sharper than the other."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

# Of photographs in which it is seen [no source], and the blur at the less sharp end, sd in the photo's pixels.
SHALLOW_SHARE = 0.25
WORST_PX = (0.6, 4.0)
# Blurs in between are mixed from so many.
LEVELS = 4

# No blur is wider than so many of a view's points, sd: beyond a short shaft's ends it would be, and take seconds.
MOST_STEPS = 40.0


@dataclass(frozen=True)
class Focus:
    """Where a photograph is sharp along the shaft, and how fast it gets softer.

    Attributes
    ----------
    sharp_s_mm : float
        Position along the shaft.
    softer : float
        Standard deviation of the blur, mm, for each mm from there.
    """

    sharp_s_mm: float
    softer: float


def draw_focus(rng: np.random.Generator, exposed_mm: float, px_mm: float) -> Focus | None:
    """Draw where a photo of so many mm a pixel is sharp; None: everywhere."""
    if rng.random() >= SHALLOW_SHARE:
        return None
    sharp = float(rng.uniform(-0.2, 1.2) * exposed_mm)
    worst = float(np.exp(rng.uniform(*np.log(WORST_PX)))) * px_mm
    return Focus(sharp, worst / max(abs(sharp), abs(exposed_mm - sharp)))


def soften(light: np.ndarray, s_mm: np.ndarray, focus: Focus, step_mm: tuple[float, float]) -> np.ndarray:
    """Blur light (h, w, 3) by what each row's place along the shaft asks for.

    Parameters
    ----------
    s_mm : ndarray of shape (h,)
        Positions of the rows along the shaft.
    step_mm : tuple of float
        From one point of the view to the next, across and down.
    """
    sd = np.minimum(np.abs(s_mm - focus.sharp_s_mm) * focus.softer, MOST_STEPS * min(step_mm))
    most = float(sd.max())
    if most / min(step_mm) < 0.2:  # less than a view shows
        return light
    place = np.clip(sd / most * (LEVELS - 1), 0, LEVELS - 1)
    out = np.zeros_like(light)
    for k in range(LEVELS):
        share = np.clip(1 - np.abs(place - k), 0, 1).astype(light.dtype)[:, None, None]
        if not share.any():
            continue
        sizes = [max(most * k / (LEVELS - 1) / step, 1e-2) for step in step_mm]
        level = light if k == 0 else cv2.GaussianBlur(light, (0, 0), sizes[0], sigmaY=sizes[1])
        out += share * level
    return out

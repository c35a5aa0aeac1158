"""A straightened view as it comes out of a photo, whose pixels lie otherwise than the view's points.

Noise, sharpening and JPEG belong to the photo's pixels. Of a thin shaft those are wider than a view's columns, of a
wide one narrower; a network that has only seen noise of the view's own fineness takes the other for structure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from .degrade import Phone, reach_sensor, record

# A square pixel's own blur: the standard deviation of a box of width one.
PIXEL_SD = 1 / np.sqrt(12.0)
# How far a phone is turned against shaft or picture's edge, sd and most, radians: people hold it straight, by eye.
TURN_SD_RAD, MOST_TURN_RAD = 0.09, 0.2


@dataclass(frozen=True)
class Grid:
    """How a photo's pixels lie over a view.

    Attributes
    ----------
    px_mm : float
        Size of a pixel where the shaft is.
    turn_rad : float
        By how much the photo's columns are turned against the shaft.
    shift_px : tuple of float
        Of the first pixel, 0 to 1 each way.
    """

    px_mm: float
    turn_rad: float
    shift_px: tuple[float, float]


@dataclass(frozen=True)
class Sampling:
    """Sampling of a view.

    Attributes
    ----------
    step_mm : tuple of float
        From one point of the view to the next, across and down.
    averaged : tuple of int
        Points averaged per row's height and per column's width.
    """

    step_mm: tuple[float, float]
    averaged: tuple[int, int] = (1, 1)


def draw_grid(rng: np.random.Generator, px_mm: float) -> Grid:
    """Draw a random pixel grid of pitch `px_mm`."""
    turn = float(np.clip(rng.normal(0, TURN_SD_RAD), -MOST_TURN_RAD, MOST_TURN_RAD))
    return Grid(px_mm, turn, (float(rng.random()), float(rng.random())))


def through_photo(
    linear: np.ndarray,
    phone: Phone,
    rng: np.random.Generator,
    gain: float,
    sampling: Sampling,
    grid: Grid,
) -> np.ndarray:
    """Photograph a view and straighten it again.

    Parameters
    ----------
    linear : ndarray of shape (h, w, 3)
        Light at the view's points.
    phone : Phone
        Its blurs in mm.
    sampling : Sampling
        Of the view.
    grid : Grid
        Position of the photo's pixels.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)
    """
    h, w = linear.shape[:2]
    aperture = replace(phone, blur=float(np.hypot(phone.blur, PIXEL_SD * grid.px_mm)))
    light = reach_sensor(linear, aperture, gain, sampling.step_mm)
    to_photo, size = _affine(grid, sampling.step_mm, (w, h))
    on_pixels = cv2.warpAffine(light, to_photo, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    photo = record(on_pixels, phone, rng)
    rows, columns = (
        (np.arange(n * per, dtype=np.float32) + 0.5) / per - 0.5
        for n, per in zip((h, w), sampling.averaged, strict=True)
    )
    x, y = np.meshgrid(columns, rows)
    places = np.stack([x, y, np.ones_like(x)], axis=-1) @ to_photo.T.astype(np.float32)
    fine = cv2.remap(photo, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mean = fine.reshape(h, sampling.averaged[0], w, sampling.averaged[1], 3).mean(axis=(1, 3))
    found: np.ndarray = np.rint(mean).astype(np.uint8)
    return found


def _affine(
    grid: Grid, step_mm: tuple[float, float], shape: tuple[int, int]
) -> tuple[np.ndarray, tuple[int, int]]:
    """Affine map (2, 3) from points of a view (x, y) to pixels of the photo, and the photo's width and height."""
    cos, sin = np.cos(grid.turn_rad), np.sin(grid.turn_rad)
    turn = np.array([[cos, -sin], [sin, cos]]) @ np.diag(step_mm) / grid.px_mm
    corners = np.array([[0, 0], [shape[0], 0], [0, shape[1]], shape]) @ turn.T
    low = corners.min(axis=0) - 4 - np.array(grid.shift_px)
    width, height = np.ceil(corners.max(axis=0) - low + 4).astype(int)
    return np.hstack([turn, -low[:, None]]), (int(width), int(height))

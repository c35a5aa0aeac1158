"""A straightened view as it comes out of a photo, whose pixels lie otherwise than the view's points.

Noise, sharpening and JPEG belong to the photo's pixels. Of a thin shaft those are wider than a view's columns, of a
wide one narrower; a network that has only seen noise of the view's own fineness takes the other for structure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np

from .degrade import SMOOTHED_SHARE, Phone, encode, reach_sensor, smoothed, vignetting

# A square pixel's own blur: the standard deviation of a box of width one.
PIXEL_SD = 1 / np.sqrt(12.0)
# How far a phone is turned against shaft or picture's edge, sd and most, radians: people hold it straight, by eye.
TURN_SD_RAD, MOST_TURN_RAD = 0.09, 0.2
# A strip that is turned against the photo's pixels fills little of its bounding box: it is photographed in pieces of
# about so many rows of pixels, with a margin.
PIECE_PX, PIECE_MARGIN_PX, JPEG_BLOCK_PX = 200, 6, 16
GRAIN_PX = 1024


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
    if phone.vignette > 0:
        light *= vignetting((h, w), phone.vignette)[..., None]
    to_photo, (_, most) = _affine(grid, sampling.step_mm, (w, h))
    grain = _grain(rng.random() < SMOOTHED_SHARE)
    pieces = max(1, round(most / PIECE_PX))
    found = np.empty((h, w, 3), np.uint8)
    for rows in np.array_split(np.arange(h), pieces):
        found[rows[0] : rows[-1] + 1] = _piece(
            light, (to_photo, rows), phone, (grain, rng), sampling.averaged
        )
    return found


def _piece(
    light: np.ndarray,
    where: tuple[np.ndarray, np.ndarray],
    phone: Phone,
    noise: tuple[np.ndarray, np.random.Generator],
    averaged: tuple[int, int],
) -> np.ndarray:
    """Photograph no more than some rows (n,) of a view need, and straighten them."""
    to_photo, rows = where
    w = light.shape[1]
    first = float(rows[0] * averaged[0])
    y = (np.arange(len(rows) * averaged[0], dtype=np.float32) + (first + 0.5)) / averaged[0] - 0.5
    x = (np.arange(w * averaged[1], dtype=np.float32) + 0.5) / averaged[1] - 0.5
    column, row = np.meshgrid(x, y)
    places = np.stack([column, row, np.ones_like(column)], axis=-1) @ to_photo.T.astype(np.float32)
    flat = places.reshape(-1, 2)
    # whole blocks of the photo's JPEG, and a few pixels for the sharpening
    low = np.floor((flat.min(axis=0) - PIECE_MARGIN_PX) / JPEG_BLOCK_PX) * JPEG_BLOCK_PX
    width, height = np.ceil(flat.max(axis=0) - low + PIECE_MARGIN_PX).astype(int)
    moved = to_photo - np.array([[0, 0, low[0]], [0, 0, low[1]]])
    on_pixels = cv2.warpAffine(
        light, moved, (int(width), int(height)), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    photo = encode(on_pixels, phone, _cut(*noise, (int(height), int(width))))
    places = places - low.astype(np.float32)
    fine = cv2.remap(photo, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mean = fine.reshape(len(rows), averaged[0], w, averaged[1], 3).mean(axis=(1, 3))
    return np.asarray(np.rint(mean).astype(np.uint8))


@lru_cache(maxsize=2)
def _grain(smooth: bool) -> np.ndarray:
    """Noise of sd one to cut pieces from: drawing it anew for each takes half of the time."""
    noise = np.random.default_rng(7).standard_normal((GRAIN_PX, GRAIN_PX, 3), dtype=np.float32)
    return smoothed(noise) if smooth else noise


def _cut(grain: np.ndarray, rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Cut a piece of noise (h, w, 3) from a random place, repeated where it is not enough."""
    if max(shape) > GRAIN_PX:
        grain = np.tile(grain, (*(-(-n // GRAIN_PX) for n in shape), 1))
    y, x = (int(rng.integers(0, have - need + 1)) for have, need in zip(grain.shape, shape, strict=False))
    return grain[y : y + shape[0], x : x + shape[1]]


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

"""Sampling of the photo on a plane in space: projection, interpolation, shrinking."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from calibration.camera import Camera
from calibration.pixels import shrunk

# From the first of these steps on, px, a view is sampled from a shrunk photo, from the second on from one shrunk by a
# whole number: its pixel is then off the step by a fifth at most. Halving takes a fifteenth of the time of any other
# area [measured].
SHRINK_FROM_PX, WHOLE_STEPS_FROM_PX = 1.5, 5 / 3
# Rows of pixels averaged in a step, evenly spread (of the columns all): a third of the time at 15 px a step [measured].
ROWS_AVERAGED = 4
# Rows and columns of a view from one projected position to the next, the others being interpolated: an error of
# 0.03 px at a slant of 20 degrees from 260 mm (with 16 rows 0.11 px) [measured].
COARSE_ROWS, COARSE_COLUMNS = 8, 8
# Points nearer to the lens than this, mm, or farther off its axis (tangent squared: 51 degrees, beyond what any
# phone sees) have no position in the photo.
MIN_DEPTH_MM, MAX_TAN2 = 20.0, 1.5


def sample(pixels: np.ndarray, xy_px: np.ndarray, shrink_first: bool = True) -> np.ndarray:
    """Sample the photo at image positions; black outside it.

    Where the view is coarser than the photo, the photo is first shrunk (area average) so that fine texture
    does not alias.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    xy_px : ndarray of shape (rows, columns, 2)
    shrink_first : bool
        Whether to shrink the photo to the view's row step.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
    """
    import cv2

    # Each coordinate by itself: over the two interleaved numpy takes ten times as long.
    x, y = xy_px[..., 0], xy_px[..., 1]
    low = np.floor([x.min(), y.min()]).astype(int) - 4
    high = np.ceil([x.max(), y.max()]).astype(int) + 5
    low = np.clip(low, 0, [pixels.shape[1] - 1, pixels.shape[0] - 1])
    high = np.clip(high, low + 1, [pixels.shape[1], pixels.shape[0]])
    part = pixels[low[1] : high[1], low[0] : high[0]]
    local = xy_px - low
    if shrink_first and (step_px := _step_px(xy_px)) > SHRINK_FROM_PX:
        part, factor = _shrunk(part, step_px)
        local = (local + 0.5) * factor - 0.5
    local = local.astype(np.float32)
    return cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)


def _step_px(xy_px: np.ndarray) -> float:
    """Median step from row to row: steps change slowly over a view, some of them suffice."""
    some = xy_px[:, ::COARSE_COLUMNS]
    return float(np.nanmedian(np.linalg.norm(np.diff(some, axis=0), axis=2)))


def mean_image(pictures: list[np.ndarray]) -> np.ndarray:
    """Mean of some pictures of uint8, rounded; in a fifth of the time of numpy's own, which takes floats."""
    total = pictures[0].astype(np.uint16)
    for one in pictures[1:]:
        total += one
    return ((total + len(pictures) // 2) // len(pictures)).astype(np.uint8)


def median_colour(colours: np.ndarray) -> np.ndarray:
    """Median of each channel of colours of uint8, shape (n, 3), by counting: a tenth of the time of numpy's own."""
    count = len(colours)
    sums = [np.cumsum(np.bincount(channel, minlength=256)) for channel in colours.T]
    middle = [np.searchsorted(one, [(count - 1) // 2, count // 2], side="right").mean() for one in sums]
    return np.array(middle)


def _shrunk(part: np.ndarray, step_px: float) -> tuple[np.ndarray, np.ndarray]:
    """Shrink a picture to one pixel a step; return it and the factors along x and y."""
    import cv2

    height, width = part.shape[:2]
    whole = round(step_px)
    if step_px >= WHOLE_STEPS_FROM_PX and min(height, width) >= whole:
        every = max(whole // ROWS_AVERAGED, 1)
        down = whole // every
        return shrunk(part[every // 2 :: every], whole, down), np.array([1 / whole, 1 / (every * down)])
    size = (max(round(width / step_px), 1), max(round(height / step_px), 1))
    factor = np.array([size[0] / width, size[1] / height])
    return cv2.resize(part, size, interpolation=cv2.INTER_AREA), factor


def photo_positions(
    camera: Camera,
    plane: Callable[[np.ndarray, np.ndarray], np.ndarray],
    rows: tuple[int, int],
    columns: int,
) -> np.ndarray:
    """Positions of a view's points in the photo, px, shape (rows, columns, 2).

    `plane` maps rows (n, 1) and columns (1, m), fractional ones too, to points in space (n, m, 3).
    """
    coarse_rows, between_rows = interpolation_grid(rows[1] - rows[0], COARSE_ROWS)
    coarse_columns, between_columns = interpolation_grid(columns, COARSE_COLUMNS)
    points = plane(rows[0] + coarse_rows[:, None], coarse_columns[None, :])
    if _projectable(points).all():
        px = camera.project(points)
        return interpolate(px, between_rows, between_columns)
    return _project_clipped(
        camera, plane(np.arange(*rows, dtype=float)[:, None], np.arange(columns)[None, :])
    )


@lru_cache(maxsize=8)
def interpolation_grid(count: int, every: int) -> tuple[np.ndarray, np.ndarray]:
    """Evenly spaced positions (m,) from 0 to count - 1, and the weights (count, m) that interpolate between them.

    Cached: the same few views are sampled in every photo.
    """
    positions = np.linspace(0, count - 1, max(-(-(count - 1) // every), 1) + 1)
    weights = [np.interp(np.arange(count), positions, one) for one in np.eye(len(positions))]
    return positions, np.stack(weights, axis=1)


def interpolate(
    px: np.ndarray, between_rows: np.ndarray, between_columns: np.ndarray | None = None
) -> np.ndarray:
    """Interpolate projected positions to shape (rows, columns, 2) with `interpolation_grid`'s weights.

    Columns stay as they are where no weights are given. All x, then all y in memory: interleaved, whatever follows
    takes several times as long.
    """
    xy = np.stack([between_rows @ px[..., k] for k in (0, 1)])
    return np.moveaxis(xy if between_columns is None else xy @ between_columns.T, 0, -1)


def _projectable(points_cam: np.ndarray) -> np.ndarray:
    """Points in front of the camera and within its field of view: far outside, the radial term folds back."""
    near = points_cam[..., 2] < MIN_DEPTH_MM
    depth = np.where(near, MIN_DEPTH_MM, points_cam[..., 2])
    wide = np.sum((points_cam[..., :2] / depth[..., None]) ** 2, axis=-1) > MAX_TAN2
    return np.asarray(~(near | wide))


def _project_clipped(camera: Camera, points_cam: np.ndarray) -> np.ndarray:
    """Project; points behind the camera (a far corner of a steep view) fall outside the photo."""
    good = _projectable(points_cam)
    px = camera.project(np.where(good[..., None], points_cam, [0.0, 0.0, MIN_DEPTH_MM]))
    px[~good] = -1e4
    return np.asarray(np.clip(px, -1e4, 1e5))

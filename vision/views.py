"""Straightened views of the photo that the three networks look at, and the way back to space.

Finder view: the card's plane, 0.8 mm a pixel, the card always in the same place, the seal's side on top.
Reader view: the plane through the shaft's axis that faces the camera, rows 0.25 mm apart along the axis,
columns across it in units of the radius.
Edge views: strips of the same plane along either silhouette, outwards from 0.7 to 1.3 radii, rows 1 mm apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from calibration.pose import CardPose
from vision.cylinder import Cylinder

FINDER_STEP_MM = 0.8
FINDER_COLUMNS, FINDER_ROWS = 256, 432
FINDER_X0_MM, FINDER_Y0_MM = 18.0 - 102.4, -88.8
READER_STEP_MM = 0.25
READER_ROWS, READER_COLUMNS = 1024, 64
# Half-width of the reader view in shaft radii: enough for the marker's lock, the seal's lip, the bumper.
READER_REACH = 2.4
EDGE_STEP_MM = 1.0
EDGE_ROWS, EDGE_COLUMNS = 256, 64
# Reach of the edge views in radii: the finder's axis is off by up to a tenth or two of a thin rod's radius.
EDGE_U = (0.7, 1.3)
# Scales the diameter channel to about one.
DIAMETER_UNIT_MM = 50.0


@dataclass(frozen=True)
class ReaderFrame:
    """Where the reader view lies in space.

    Attributes
    ----------
    cylinder : Cylinder
        The estimate of the shaft that the view is laid along.
    camera : Camera
        The estimate of the camera that goes with it.
    s0_mm : float
        Position along the axis of row 0's middle; rows follow every `READER_STEP_MM`.
    """

    cylinder: Cylinder
    camera: Camera
    s0_mm: float

    def u(self) -> np.ndarray:
        """Lateral places of the columns, in radii; increases with the card's x."""
        return (np.arange(READER_COLUMNS) + 0.5) / READER_COLUMNS * 2 * READER_REACH - READER_REACH

    def s_mm(self, row: np.ndarray | float) -> np.ndarray | float:
        """Position of a (fractional) row along the axis, in the view's plane."""
        return self.s0_mm + READER_STEP_MM * row

    def points_cam(self, rows: np.ndarray, u: np.ndarray) -> np.ndarray:
        """Points of the view's plane in camera coordinates, mm, shape (..., 3)."""
        _, sideways = self.cylinder.basis()
        s, u = np.broadcast_arrays(self.s_mm(rows), u)
        return (
            self.cylinder.point_cam
            + s[..., None] * self.cylinder.axis_cam
            - (u * self.cylinder.radius_mm)[..., None] * sideways
        )


def edge_u() -> np.ndarray:
    """Lateral places of an edge view's columns, radii from the axis."""
    return EDGE_U[0] + (EDGE_U[1] - EDGE_U[0]) * (np.arange(EDGE_COLUMNS) + 0.5) / EDGE_COLUMNS


def edge_row_of_reader(edge_row: np.ndarray) -> np.ndarray:
    """Reader row at the middle of an edge view's row."""
    per = EDGE_STEP_MM / READER_STEP_MM
    return np.asarray(edge_row) * per + 0.5 * (per - 1)


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

    step_px = float(np.nanmedian(np.linalg.norm(np.diff(xy_px, axis=0), axis=2)))
    low = np.floor(xy_px.reshape(-1, 2).min(axis=0)).astype(int) - 4
    high = np.ceil(xy_px.reshape(-1, 2).max(axis=0)).astype(int) + 5
    low = np.clip(low, 0, [pixels.shape[1] - 1, pixels.shape[0] - 1])
    high = np.clip(high, low + 1, [pixels.shape[1], pixels.shape[0]])
    part = pixels[low[1] : high[1], low[0] : high[0]]
    local = xy_px - low
    shrink = 1 / step_px if shrink_first and step_px > 1.5 else 1.0
    if shrink < 1:
        size = (max(round(part.shape[1] * shrink), 1), max(round(part.shape[0] * shrink), 1))
        factor = np.array([size[0] / part.shape[1], size[1] / part.shape[0]])
        part = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
        local = (local + 0.5) * factor - 0.5
    local = local.astype(np.float32)
    return cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)


def finder_view(pixels: np.ndarray, camera: Camera, pose: CardPose) -> np.ndarray:
    """The card-plane view, uint8 (432, 256, 3)."""
    x = FINDER_X0_MM + FINDER_STEP_MM * (np.arange(FINDER_COLUMNS) + 0.5)
    y = FINDER_Y0_MM + FINDER_STEP_MM * (np.arange(FINDER_ROWS) + 0.5)
    X, Y = np.meshgrid(x, y)
    return sample(pixels, _project_before(camera, pose.to_cam(np.stack([X, Y, np.zeros_like(X)], axis=-1))))


def reader_view(pixels: np.ndarray, frame: ReaderFrame) -> np.ndarray:
    """The view along the shaft, uint8 (1024, 64, 3)."""
    rows = np.arange(READER_ROWS)[:, None]
    return sample(pixels, _project_before(frame.camera, frame.points_cam(rows, frame.u()[None, :])))


def edge_view(pixels: np.ndarray, frame: ReaderFrame, side: int) -> np.ndarray:
    """The view along one silhouette, uint8 (256, 64, 3), the shaft on the left.

    Parameters
    ----------
    side : int
        +1 or -1, as in `Cylinder.axis_distance_mm`: the silhouette at the card's smaller or larger x.
    """
    rows = np.arange(READER_ROWS)[:, None]
    points = frame.points_cam(rows, -side * edge_u()[None, :])
    # Fine across, coarse along: averaged over rows, never over columns.
    fine = sample(pixels, _project_before(frame.camera, points), shrink_first=False)
    mean = fine.reshape(EDGE_ROWS, -1, EDGE_COLUMNS, 3).mean(axis=1)
    return np.rint(mean).astype(np.uint8)


def _project_before(camera: Camera, points_cam: np.ndarray) -> np.ndarray:
    """Project; points behind the camera (a far corner of a steep view) land outside the photo."""
    safe = points_cam.copy()
    behind = safe[..., 2] < 20.0
    safe[behind] = [0.0, 0.0, 20.0]
    px = camera.project(safe)
    px[behind] = -1e4
    # Far outside, the radial term folds back into the picture: keep to where the lens is meaningful.
    wide = np.sum((safe[..., :2] / safe[..., 2:]) ** 2, axis=-1) > 1.5
    px[wide] = -1e4
    return np.clip(px, -1e4, 1e5)

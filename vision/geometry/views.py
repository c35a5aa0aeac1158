"""Rectified views of the photo, the inputs of the networks, and their positions in space.

Finder view: the card's plane, 1.6 mm/px, the card always in the same place, the seal's side on top.
Reader view: the plane through the shaft's axis that faces the camera, rows 0.25 mm apart along the axis, columns
across it in units of the radius.
Edge views: strips of the same plane along either silhouette, rows 1 mm apart; coarse ones from 0.7 to 1.3 radii, fine
ones with half a pixel of the photo a column.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from calibration.pose import CardPose
from vision.geometry.cylinder import Cylinder
from vision.geometry.sampling import MIN_DEPTH_MM, mean_image, photo_positions, sample

FINDER_STEP_MM = 1.6
FINDER_COLUMNS, FINDER_ROWS = 128, 216
FINDER_X0_MM, FINDER_Y0_MM = 18.0 - 102.4, -88.8
# Rows that the finder's view gets where the shaft reaches one of its ends: 154 mm, enough for one of 320 mm beside
# either end of the card. The network knows no length: with them it finds the same ends of shorter shafts.
FINDER_MORE_ROWS = 96
READER_STEP_MM = 0.25
READER_ROWS, READER_COLUMNS = 1024, 64
# Exposed shafts up to this length, mm, are seen in views of `READER_ROWS`, the length trained on, with 20 mm to spare
# at either end; longer ones (off-road forks show 300) in longer views: the networks know no length.
USUAL_LENGTH_MM = 216.0
# Half-width of the reader view, shaft radii: enough for the marker's lock, the seal's lip, the bumper.
READER_REACH = 2.4
EDGE_STEP_MM = 1.0
# Views grow by this, mm: whole blocks of rows of every network (32 of 0.25 mm, 16 of 1 mm).
VIEW_BLOCK_MM = 16.0
EDGE_ROWS, EDGE_COLUMNS = 256, 64
# Half-width of the coarse edge views, radii: the initial axis is off by up to 0.2 radii of a thin rod.
EDGE_REACH_U = 0.3
# Width of a column of a fine edge view, px of the photo (coarse columns of a 41 mm tube, 1.3 px, bias silhouettes by
# 0.2 px, these by 0.1 px [measured]), and the least half-width of such a view, mm: finer ones change no length.
FINE_COLUMN_PX, FINE_MIN_REACH_MM = 0.5, 2.0
# Unit of the diameter channel, which is then about one.
DIAMETER_UNIT_MM = 50.0


@dataclass(frozen=True)
class FinderView:
    """The view of the card's plane.

    Attributes
    ----------
    image : ndarray of uint8, shape (rows, 128, 3)
    y0_mm : float
        Where its first row begins, in card coordinates.
    """

    image: np.ndarray
    y0_mm: float = FINDER_Y0_MM

    def x_mm(self) -> np.ndarray:
        """Card x of the columns."""
        return np.asarray(FINDER_X0_MM + FINDER_STEP_MM * (np.arange(self.image.shape[1]) + 0.5))

    def y_mm(self) -> np.ndarray:
        """Card y of the rows."""
        return np.asarray(self.y0_mm + FINDER_STEP_MM * (np.arange(self.image.shape[0]) + 0.5))


@dataclass(frozen=True)
class ReaderFrame:
    """Position of the reader view in space.

    Attributes
    ----------
    cylinder : Cylinder
        Estimate of the shaft that the view follows.
    camera : Camera
        Estimate of the camera that belongs to it.
    s0_mm : float
        Position along the axis of row 0's middle; rows follow every `READER_STEP_MM`.
    """

    cylinder: Cylinder
    camera: Camera
    s0_mm: float

    @property
    def px_per_radius(self) -> float:
        """Radius of the shaft in the photo, px."""
        distance_mm = max(self.cylinder.camera_distance_mm(), MIN_DEPTH_MM)
        return self.cylinder.radius_mm * self.camera.focal_px / distance_mm

    @property
    def fine_reach_u(self) -> float:
        """Half-width of the fine edge views along this shaft, radii."""
        return fine_reach_u(self.px_per_radius, self.cylinder.radius_mm)

    def u(self) -> np.ndarray:
        """Lateral positions of the columns, radii; increase with the card's x."""
        return reader_u(np.arange(READER_COLUMNS))

    def s_mm(self, row: np.ndarray | float) -> np.ndarray | float:
        """Position of a (fractional) row along the axis, in the view's plane."""
        return self.s0_mm + READER_STEP_MM * row

    def points_cam(self, rows: np.ndarray, u: np.ndarray) -> np.ndarray:
        """Points of the view's plane in camera coordinates, mm, shape (..., 3)."""
        _, sideways = self.cylinder.basis
        s, u = np.broadcast_arrays(self.s_mm(rows), u)
        return np.asarray(
            self.cylinder.point_cam
            + s[..., None] * self.cylinder.axis_cam
            - (u * self.cylinder.radius_mm)[..., None] * sideways
        )

    def at(self, points_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Find the (fractional) rows and the lateral positions, radii, at which points of the photo, px, are shown."""
        rays = self.camera.rays(points_px)
        towards, sideways = self.cylinder.basis
        depth = (self.cylinder.point_cam @ towards) / (rays @ towards)
        off_axis = depth[..., None] * rays - self.cylinder.point_cam
        rows = (off_axis @ self.cylinder.axis_cam - self.s0_mm) / READER_STEP_MM
        return rows, -(off_axis @ sideways) / self.cylinder.radius_mm

    def surface_along_columns(
        self, rows: tuple[float, float], u: np.ndarray, radius_mm: float | np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Find where along the axis columns show the shaft's surface.

        Along a column that is linear in the row (to 1e-12 rows in 60 bands): two rows determine it.

        Parameters
        ----------
        rows : tuple of two float
            At which it is evaluated.
        u : ndarray of shape (n,)
            Lateral positions, radii.
        radius_mm : float or ndarray of shape (n,), optional
            Of the surface; the shaft's own by default.

        Returns
        -------
        at_first_mm, per_row_mm : ndarray of shape (n,)
            Position at the first of the rows, and its change from one row to the next.
        """
        (first, last), _ = self.cylinder.unroll(
            self.points_cam(np.array(rows, float)[:, None], u[None, :]), radius_mm
        )
        return first, (last - first) / (rows[1] - rows[0])

    def moved_along_px(self, points_px: np.ndarray, by_mm: float | np.ndarray) -> np.ndarray:
        """Move points of the photo, px, along the axis on the shaft's surface."""
        s_mm, phi = self.cylinder.unroll(self.camera.rays(points_px))
        return self.camera.project(self.cylinder.surface(s_mm + by_mm, phi))


def reader_u(columns: np.ndarray) -> np.ndarray:
    """Lateral positions of columns of the reader view, radii from the axis."""
    return (columns + 0.5) / READER_COLUMNS * 2 * READER_REACH - READER_REACH


def reader_columns(u: np.ndarray) -> np.ndarray:
    """Columns of the reader view nearest to lateral positions, radii: the inverse of `reader_u`."""
    return np.rint((u / READER_REACH + 1) / 2 * READER_COLUMNS - 0.5).astype(int)


def edge_u(columns: np.ndarray, reach_u: float) -> np.ndarray:
    """Lateral positions of columns of an edge view of half-width `reach_u`, radii from the axis."""
    return 1 - reach_u + edge_column_u(reach_u) * (columns + 0.5)


def edge_column_u(reach_u: float) -> float:
    """Width of a column of an edge view, radii."""
    return 2 * reach_u / EDGE_COLUMNS


def fine_reach_u(px_per_radius: float, radius_mm: float) -> float:
    """Half-width of a fine edge view, radii."""
    half_px = 0.5 * EDGE_COLUMNS * FINE_COLUMN_PX
    return min(max(half_px / px_per_radius, FINE_MIN_REACH_MM / radius_mm), EDGE_REACH_U)


def view_length_mm(shaft_mm: float, beyond_mm: float) -> float:
    """Length of the views along a shaft of this exposed length, mm, with so much beyond either end where it is long."""
    usual_mm = READER_ROWS * READER_STEP_MM
    if shaft_mm <= USUAL_LENGTH_MM:
        return usual_mm
    blocks = np.ceil(max(shaft_mm + 2 * beyond_mm, usual_mm) / VIEW_BLOCK_MM)
    return float(blocks * VIEW_BLOCK_MM)


READER_ROWS_PER_EDGE_ROW = round(EDGE_STEP_MM / READER_STEP_MM)


def edge_row_of_reader(edge_row: np.ndarray) -> np.ndarray:
    """Reader row at the middle of an edge view's row."""
    return np.asarray(edge_row) * READER_ROWS_PER_EDGE_ROW + 0.5 * (READER_ROWS_PER_EDGE_ROW - 1)


def rows_covering(ends: tuple[float, float], rows: int, multiple: int) -> tuple[int, int]:
    """Whole blocks of a view's rows that cover a stretch of it: the first row, and the one after the last.

    Parameters
    ----------
    ends : tuple of float
        Rows between which the stretch lies.
    rows : int
        Number of rows of the view; all of them are returned where the stretch lies outside it.
    multiple : int
        Number of rows in a block.
    """
    first = int(np.clip(np.floor(ends[0] / multiple), 0, rows // multiple)) * multiple
    last = int(np.clip(np.ceil(ends[1] / multiple), 0, rows // multiple)) * multiple
    return (first, last) if last > first else (0, rows)


def sampled_rows(view: np.ndarray, multiple: int) -> tuple[int, int]:
    """Whole blocks of the rows of a reader view that were sampled; all others are black."""
    shown = np.flatnonzero(view.any(axis=(1, 2)))
    return rows_covering((shown[0], shown[-1] + 1), len(view), multiple)


def finder_view(
    pixels: np.ndarray, camera: Camera, pose: CardPose, more: tuple[int, int] = (0, 0)
) -> FinderView:
    """Sample the card-plane view, (216, 128, 3), with `more` rows before and after it."""
    y0_mm = FINDER_Y0_MM - FINDER_STEP_MM * more[0]

    def plane(rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        x = FINDER_X0_MM + FINDER_STEP_MM * (columns + 0.5)
        y = y0_mm + FINDER_STEP_MM * (rows + 0.5)
        X, Y = np.broadcast_arrays(x, y)
        return pose.to_cam(np.stack([X, Y, np.zeros_like(X)], axis=-1))

    rows = FINDER_ROWS + sum(more)
    return FinderView(sample(pixels, photo_positions(camera, plane, (0, rows), FINDER_COLUMNS)), y0_mm)


def reader_view(
    pixels: np.ndarray, frame: ReaderFrame, rows: tuple[int, int] = (0, READER_ROWS)
) -> np.ndarray:
    """Sample the view along the shaft, uint8 (1024, 64, 3), or some of its rows, `rows[0]` up to `rows[1]`."""
    return sample(pixels, reader_positions(frame, rows))


def reader_positions(frame: ReaderFrame, rows: tuple[int, int]) -> np.ndarray:
    """Positions in the photo at which some rows of the view along the shaft are sampled, px, shape (rows, 64, 2)."""

    def plane(at: np.ndarray, columns: np.ndarray) -> np.ndarray:
        return frame.points_cam(at, reader_u(columns))

    return photo_positions(frame.camera, plane, rows, READER_COLUMNS)


def edge_view(
    pixels: np.ndarray,
    frame: ReaderFrame,
    side: int,
    rows: tuple[int, int] = (0, EDGE_ROWS),
    reach_u: float = EDGE_REACH_U,
) -> np.ndarray:
    """Sample the view along one silhouette, uint8 (256, 64, 3), the shaft on the left; or some of its rows.

    Parameters
    ----------
    side : int
        +1 or -1, as in `Cylinder.axis_distance_mm`: the silhouette at the card's smaller or larger x.
    rows : tuple of int
        From the first up to the second.
    reach_u : float
        Half-width of the view, radii.
    """

    def plane(at: np.ndarray, columns: np.ndarray) -> np.ndarray:
        return frame.points_cam(at, -side * edge_u(columns, reach_u))

    # Fine across, coarse along: averaged over rows, never over columns.
    per = READER_ROWS_PER_EDGE_ROW
    positions = photo_positions(frame.camera, plane, (per * rows[0], per * rows[1]), EDGE_COLUMNS)
    fine = sample(pixels, positions, shrink_first=False)
    return mean_image([fine[k::per] for k in range(per)])

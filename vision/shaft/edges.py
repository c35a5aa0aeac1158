"""The shaft's silhouettes in its edge views: one point a row, outliers, standard uncertainties."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.adjustment.observations import SILHOUETTE_POINT_SD_PX, SILHOUETTE_SD_PX
from vision.geometry.views import (
    EDGE_COLUMNS,
    EDGE_REACH_U,
    EDGE_STEP_MM,
    READER_STEP_MM,
    ReaderFrame,
    edge_column_u,
    edge_row_of_reader,
    edge_view,
)
from vision.networks.run import silhouette_class_probabilities
from vision.networks.transitions import find_transitions


@dataclass(frozen=True)
class EdgeSigmaModel:
    """Standard uncertainty of a silhouette as a whole: the root of the sum of squares of three parts.

    Attributes
    ----------
    floor_px : float
    transition_factor : float
        Times the transition width beyond a sharp border's.
    scatter_factor : float
        Times the scatter of its points about their line.
    """

    floor_px: float
    transition_factor: float
    scatter_factor: float


# Columns that must show shaft on one side and background on the other: nearer to the view's end an edge may be any
# edge.
MIN_COLUMNS_BESIDE = 4
# Mean probability of the right class in those columns.
MIN_CLASS_PROBABILITY = 0.6
# Mean probability of "anything else" near the transition above which a row does not show the bare edge.
MAX_OTHER_PROBABILITY = 0.25
# Transitions wider than this many columns are no edge (a sharp one in a sharp photo takes 1 to 2).
MAX_TRANSITION_COLUMNS = 10.0
# Points needed for a line.
MIN_POINTS = 4
# Distance from their line, columns of the view, beyond which points are outliers; iterations of the line fit, the first
# of which accepts four times that distance, each next one two thirds of the one before.
INLIER_COLUMNS = 1.6
LINE_ITERATIONS, FIRST_INLIER_FACTOR, SHRINK = 6, 4, 1.5
# Coarse and fine views: docs/measurement-model.md, "Silhouettes" (number of edges, fit).
COARSE_SIGMA = EdgeSigmaModel(0.19, 0.4, 0.95)
FINE_SIGMA = EdgeSigmaModel(SILHOUETTE_SD_PX, 0.7, 0.95)
# Offset of the network's silhouettes inside the true ones, radii: half of what path-traced photographs show (0.15 % of
# wide tubes, 24 edges); in our own renderings there is none (docs/measurement-model.md, "Silhouettes").
SILHOUETTE_BIAS_U = 0.0006
# Width of the transition at the sharpest border, columns.
SHARPEST_TRANSITION_COLUMNS = 1.0
# Least standard uncertainty of one point, px.
MIN_POINT_SD_PX = 0.1
# Points of one edge within this distance are correlated, mm: the length of a reflection or a smudge.
CORRELATION_LENGTH_MM = 10.0
# Error of an edge's ends by tilt, relative to that of the edge as a whole: 0.8 to 1.2 over 216 rendered edges longer
# than 50 mm (docs/measurement-model.md, "Silhouettes").
TILT_SHARE = 0.8
# Share of that standard uncertainty that is left without the part of the variance that the points contribute to it.
OWN_SHARE = float(np.sqrt(1 - TILT_SHARE**2 / 3))


@dataclass(frozen=True)
class SilhouettePoints:
    """One silhouette: a point in each row that shows it.

    Attributes
    ----------
    reader_rows : ndarray of shape (n,)
        Rows of the reader view.
    u : ndarray of shape (n,)
        Distance from the frame's axis, radii, positive.
    sd_u : ndarray of shape (n,)
        Standard uncertainty of one point, radii: transition width / √12.
    """

    reader_rows: np.ndarray
    u: np.ndarray
    sd_u: np.ndarray

    @classmethod
    def none(cls) -> SilhouettePoints:
        """Make an empty set of points."""
        return cls(np.zeros(0), np.zeros(0), np.zeros(0))

    def only(self, keep: np.ndarray) -> SilhouettePoints:
        """Select some of the points."""
        return SilhouettePoints(self.reader_rows[keep], self.u[keep], self.sd_u[keep])

    def points_px(self, frame: ReaderFrame, side: int) -> np.ndarray:
        """Project the points into the photo, px, shape (n, 2)."""
        if len(self.u) == 0:
            return np.zeros((0, 2))
        return frame.camera.project(frame.points_cam(self.reader_rows, -side * self.u))


def silhouette_points(probabilities: np.ndarray, reach_u: float, first_row: int = 0) -> SilhouettePoints:
    """Find the border of shaft and background in every row.

    Parameters
    ----------
    probabilities : ndarray of shape (3, rows, 64)
        Of one edge view: shaft, background, anything else.
    reach_u : float
        Half-width of the view, radii.
    first_row : int
        Row of the edge view at which these begin.

    Returns
    -------
    SilhouettePoints
        Rows without the bare edge are left out.
    """
    shaft, behind, other = probabilities
    found = find_transitions(shaft, behind, MAX_TRANSITION_COLUMNS)
    split, near = found.split, found.near
    column = np.arange(EDGE_COLUMNS)[None, :]
    inner, outer = near & (column < split[:, None]), near & (column >= split[:, None])
    elsewhere = (other * near).sum(axis=1) / np.maximum(near.sum(axis=1), 1)
    ok = (split >= MIN_COLUMNS_BESIDE) & (split <= EDGE_COLUMNS - MIN_COLUMNS_BESIDE)
    ok &= elsewhere < MAX_OTHER_PROBABILITY
    ok &= found.width < MAX_TRANSITION_COLUMNS
    ok &= (shaft * inner).sum(axis=1) > MIN_CLASS_PROBABILITY * inner.sum(axis=1)
    ok &= (behind * outer).sum(axis=1) > MIN_CLASS_PROBABILITY * outer.sum(axis=1)
    rows = np.flatnonzero(ok)
    per_column = edge_column_u(reach_u)
    return SilhouettePoints(
        edge_row_of_reader(first_row + rows).astype(float),
        1 - reach_u + per_column * found.position[rows],
        per_column * np.maximum(found.width[rows], 1.0) / np.sqrt(12.0),
    )


def inliers(edge: SilhouettePoints, reach_u: float) -> SilhouettePoints:
    """Select the points on the straight line that most of them lie on."""
    if len(edge.u) < MIN_POINTS:
        return SilhouettePoints.none()
    rows = edge.reader_rows
    slope, at_start = 0.0, float(np.median(edge.u))
    near = INLIER_COLUMNS * edge_column_u(reach_u)
    within = FIRST_INLIER_FACTOR * near
    for _ in range(LINE_ITERATIONS):
        keep = np.abs(edge.u - (at_start + slope * rows)) < within
        if keep.sum() < MIN_POINTS:
            return SilhouettePoints.none()
        if np.ptp(rows[keep]) * READER_STEP_MM > CORRELATION_LENGTH_MM:
            slope, at_start = _line(rows[keep], edge.u[keep], 1 / edge.sd_u[keep])
        else:
            slope, at_start = 0.0, float(np.median(edge.u[keep]))
        within = max(within / SHRINK, near)
    keep = np.abs(edge.u - (at_start + slope * rows)) < within
    return edge.only(keep)


def _line(x: np.ndarray, y: np.ndarray, weight: np.ndarray | float = 1.0) -> tuple[float, float]:
    """Slope and value at 0 of the straight line of least weighted squares: `np.polyfit` takes ten times as long."""
    squares = np.broadcast_to(weight, x.shape) ** 2
    total = squares.sum()
    middle = squares @ x / total
    lever = squares * (x - middle)
    slope = lever @ y / (lever @ (x - middle))
    return float(slope), float(squares @ y / total - slope * middle)


def side_sigma_px(edge: SilhouettePoints, frame: ReaderFrame, fine: bool) -> tuple[float, float]:
    """Derive the standard uncertainties, px, of one silhouette as a whole and of one of its points."""
    if len(edge.u) == 0:
        return SILHOUETTE_SD_PX, SILHOUETTE_POINT_SD_PX
    px_per_radius, column = frame.px_per_radius, edge_column_u(_reach_u(frame, fine))
    soft = float(np.median(edge.sd_u))
    widening = max(soft * 12**0.5 - SHARPEST_TRANSITION_COLUMNS * column, 0.0)
    slope, at_start = _line(edge.reader_rows, edge.u)
    scatter = float(np.std(edge.u - (at_start + slope * edge.reader_rows)))
    model = FINE_SIGMA if fine else COARSE_SIGMA
    of_edge = np.hypot(model.transition_factor * widening, model.scatter_factor * scatter) * px_per_radius
    whole = np.hypot(model.floor_px, of_edge)
    # Correlated points count as fewer.
    point = max(soft * px_per_radius, MIN_POINT_SD_PX) * np.sqrt(CORRELATION_LENGTH_MM / EDGE_STEP_MM)
    return whole_and_point_sd_px(float(whole) * OWN_SHARE, float(point), 0.0, len(edge.u))


def whole_and_point_sd_px(
    whole_px: float, point_px: float, further_px: float, count: int
) -> tuple[float, float]:
    """Combine the standard uncertainty of a silhouette as a whole, px, with a further one.

    Parameters
    ----------
    whole_px, point_px : float
        Of the whole, without what its points contribute (`OWN_SHARE`), and of one of its points.
    further_px : float
        Further standard uncertainty of the whole.
    count : int
        Number of points.

    Returns
    -------
    whole_px, point_px : float
        The points together leave a line's ends as uncertain as `TILT_SHARE` says.
    """
    whole = float(np.hypot(whole_px / OWN_SHARE, further_px))
    return OWN_SHARE * whole, float(max(point_px, TILT_SHARE * whole * np.sqrt(count / 3)))


@dataclass(frozen=True)
class Side:
    """One silhouette: its points, and the standard uncertainties of the whole and of one point."""

    edge: SilhouettePoints
    points_px: np.ndarray
    sd_px: float
    point_sd_px: float

    @property
    def seen(self) -> bool:
        """Whether any of it was found."""
        return len(self.edge.u) > 0


@dataclass(frozen=True)
class EdgeSearch:
    """The photo and the stretch of the shaft in which silhouettes are searched for.

    Attributes
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    rows : tuple of two int
        Rows of the edge views, from the first up to the second.
    diameter_mm : float
        Declared.
    """

    pixels: np.ndarray
    rows: tuple[int, int]
    diameter_mm: float

    def sides(self, frame: ReaderFrame, fine: bool) -> list[Side]:
        """Find both silhouettes in coarse or fine views: at the card's smaller x, and at its larger."""
        reach_u = _reach_u(frame, fine)
        views = tuple(edge_view(self.pixels, frame, side, self.rows, reach_u) for side in (1, -1))
        out = []
        classes = silhouette_class_probabilities((views[0], views[1]), self.diameter_mm, fine)
        for side, one in zip((1, -1), classes, strict=True):
            edge = inliers(silhouette_points(one, reach_u, self.rows[0]), reach_u)
            edge = replace(edge, u=edge.u + SILHOUETTE_BIAS_U)
            out.append(Side(edge, edge.points_px(frame, side), *side_sigma_px(edge, frame, fine)))
        return out


def _reach_u(frame: ReaderFrame, fine: bool) -> float:
    return frame.fine_reach_u if fine else EDGE_REACH_U

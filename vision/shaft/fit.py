"""The shaft in space from its two silhouettes: where the edge network sees them, and the solve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.adjustment.observations import SILHOUETTE_POINT_SD_PX, SILHOUETTE_SD_PX, Observations
from vision.adjustment.residuals import camera_of, cylinder_of
from vision.adjustment.solve import Solution, gauss_newton_step, solve
from vision.geometry.views import (
    EDGE_REACH_U,
    EDGE_ROWS,
    EDGE_STEP_MM,
    READER_STEP_MM,
    ReaderFrame,
    edge_column_u,
    edge_view,
    rows_covering,
)
from vision.networks.run import EDGE_ROWS_MULTIPLE, silhouette_class_probabilities
from vision.shaft.edges import SilhouettePoints, silhouette_points


@dataclass(frozen=True)
class EdgeSigmaModel:
    """What a silhouette as a whole errs by (sd), the root of the sum of squares of these.

    Attributes
    ----------
    floor_px : float
    transition_factor : float
        Times the stretch over which the network is undecided, beyond a sharp border's.
    scatter_factor : float
        Times its points' scatter about their line.
    """

    floor_px: float
    transition_factor: float
    scatter_factor: float


# Looks along the silhouettes, each with a solve, and the distance, in radii, between view and solution within which the
# first is enough: training showed the network views off by some hundredths of the radius.
MAX_PASSES, CONVERGED_U = 2, 0.05
# Fine views that reach as far as this show a thin shaft's silhouettes wherever the finder's axis may put them. A wider
# shaft's are looked at from farther off before, again where they lie farther off than this share of the fine views'
# reach; two steps of Gauss and Newton are enough to lay these along them.
FINE_DIRECT_REACH_U, FINE_REACH_SHARE, GAUSS_NEWTON_STEPS = 0.25, 0.5, 2
# The network sees silhouettes so far inside the true ones, radii: half of what the path-traced photographs of the
# project's vision notes show (wide tubes 0.15 %, 24 edges); on sharp photographs of our own scenes, on which it was
# trained, it sees them where they are. Which of both renderers is nearer to a phone is not known: the middle is taken,
# and half of the disagreement lies within the doubt of a silhouette (docs/measured.md).
SILHOUETTE_BIAS_U = 0.0006
# Points of one side needed to draw a line through them.
MIN_POINTS = 4
# Points this many columns of the view from their side's line are not on it.
INLIER_COLUMNS = 1.6
# Fitted together (Student's t of 4 degrees of freedom, 1.4 times its scale): of first looks 266 edges of scenes kept
# out of training and 40 of path-traced photographs; of fine ones 3,017, 124 of photographs of our own scenes and 43.
# A polished limb that mirrors what stands beside it hides the true edge, and is softer and less straight.
COARSE_SIGMA, FINE_SIGMA = EdgeSigmaModel(0.19, 0.4, 0.95), EdgeSigmaModel(SILHOUETTE_SD_PX, 0.7, 0.95)
# A silhouette of which a fine look shows nothing is so many times as doubtful (no source).
COARSE_ONLY_FACTOR = 2.0
# Columns over which the network is undecided at the sharpest border.
SHARPEST_TRANSITION_COLUMNS = 1.0
# Rows of one edge that err together, mm along the shaft: a reflection or a smudge is about as long.
CORRELATION_LENGTH_MM = 10.0
# How far an edge's ends are off, leaning, in parts of what it is off as a whole: what misleads it changes along
# the shaft. Of 216 edges of scenes longer than 50 mm 0.8 to 1.2; the axis' tilt in path-traced photographs of long
# shafts, twice as far off as told without this, says the same.
TILT_SHARE = 0.8


@dataclass(frozen=True)
class ShaftFit:
    """The shaft found in space.

    Attributes
    ----------
    solution : Solution
    observations : Observations
        With the silhouette points in it.
    frame : ReaderFrame or None
        Laid along the solution; None where rims were set by hand.
    """

    solution: Solution
    observations: Observations
    frame: ReaderFrame | None = None


def fit_shaft(
    pixels: np.ndarray,
    theta: np.ndarray,
    observations: Observations,
    middle_mm: float,
    extent_mm: tuple[float, float] | None = None,
) -> ShaftFit | None:
    """Find both silhouettes and solve for card, lens and shaft together.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    theta : ndarray
        Where to start.
    observations : Observations
        Without silhouette points.
    middle_mm : float
        Middle of the views along the axis.
    extent_mm : tuple of float, optional
        From where to where along the axis the exposed shaft may reach; edges are not looked for beyond it.

    Returns
    -------
    ShaftFit or None
        None where no row shows an edge of the bare shaft.
    """
    s0 = middle_mm - 0.5 * EDGE_ROWS * EDGE_STEP_MM
    rows = (0, EDGE_ROWS)
    if extent_mm is not None:
        low, high = ((s - s0) / EDGE_STEP_MM for s in extent_mm)
        rows = rows_covering((low, high), EDGE_ROWS, EDGE_ROWS_MULTIPLE)
    diameter_mm = observations.declared.diameter_mm
    frame = ReaderFrame(cylinder_of(theta), camera_of(theta, observations), s0)
    if frame.fine_reach_u < FINE_DIRECT_REACH_U:
        within_u = FINE_REACH_SHARE * frame.fine_reach_u
        frame, theta, first = _coarse_alignment(pixels, frame, theta, observations, rows, within_u)
        # What is too blurred for a close look, or does not lie in it, is taken as first seen.
        sides = [
            near if near.seen and _inside_fine_view(far, frame) else far
            for near, far in zip(_find_sides(pixels, frame, rows, diameter_mm, fine=True), first, strict=True)
        ]
        return _solve_with(theta, observations, sides, s0)
    fit: ShaftFit | None = None
    for _ in range(MAX_PASSES):
        sides = _find_sides(pixels, frame, rows, diameter_mm, fine=True)
        again = _solve_with(theta, observations, sides, s0)
        if again is None:
            break
        fit = again
        assert fit.frame is not None
        frame, theta = fit.frame, fit.solution.theta
        if _largest_offset_u(sides) < CONVERGED_U:
            break
    if fit is None:
        # Between coils so little of a thin rod may show that it is seen from farther off alone.
        _, theta, first = _coarse_alignment(pixels, frame, theta, observations, rows, CONVERGED_U)
        sides = [
            replace(
                side, sd_px=COARSE_ONLY_FACTOR * side.sd_px, point_sd_px=COARSE_ONLY_FACTOR * side.point_sd_px
            )
            for side in first
        ]
        fit = _solve_with(theta, observations, sides, s0)
    return fit


def _coarse_alignment(
    pixels: np.ndarray,
    frame: ReaderFrame,
    theta: np.ndarray,
    observations: Observations,
    rows: tuple[int, int],
    within_u: float,
) -> tuple[ReaderFrame, np.ndarray, list[_Side]]:
    """Look along the silhouettes from farther off, so that close views lie along them.

    Parameters
    ----------
    within_u : float
        The view must lie this near to them, radii, or it is laid once more.

    Returns
    -------
    frame : ReaderFrame
    theta : ndarray
        The parameters that it belongs to.
    sides : list of _Side
        As first seen.
    """
    sides: list[_Side] = []
    for _ in range(MAX_PASSES):
        sides = _find_sides(pixels, frame, rows, observations.declared.diameter_mm, fine=False)
        if not any(side.seen for side in sides):
            break
        seen = _with_sides(observations, sides)
        for _ in range(GAUSS_NEWTON_STEPS):
            theta, _ = gauss_newton_step(theta, seen)
        frame = ReaderFrame(cylinder_of(theta), camera_of(theta, observations), frame.s0_mm)
        if _largest_offset_u(sides) < within_u:
            break
    return frame, theta, sides


@dataclass(frozen=True)
class _Side:
    """One silhouette as a look along it tells: its points, and what the edge and one point of it err by."""

    edge: SilhouettePoints
    points_px: np.ndarray
    sd_px: float
    point_sd_px: float

    @property
    def seen(self) -> bool:
        """Whether any of it was."""
        return len(self.edge.u) > 0


def _find_sides(
    pixels: np.ndarray, frame: ReaderFrame, rows: tuple[int, int], diameter_mm: float, fine: bool
) -> list[_Side]:
    """Look along both silhouettes: at the card's smaller x, and at its larger."""
    reach_u = _reach_u(frame, fine)
    views = edge_view(pixels, frame, 1, rows, reach_u), edge_view(pixels, frame, -1, rows, reach_u)
    out = []
    for side, shares in zip((1, -1), silhouette_class_probabilities(views, diameter_mm, fine), strict=True):
        edge = _inliers(silhouette_points(shares, reach_u, rows[0]), reach_u)
        edge = replace(edge, u=edge.u + SILHOUETTE_BIAS_U)
        out.append(_Side(edge, edge.points_px(frame, side), *_side_sigma_px(edge, frame, fine)))
    return out


def _reach_u(frame: ReaderFrame, fine: bool) -> float:
    return frame.fine_reach_u if fine else EDGE_REACH_U


def _solve_with(
    theta: np.ndarray, observations: Observations, sides: list[_Side], s0_mm: float
) -> ShaftFit | None:
    """Solve with these silhouettes; None where neither was seen."""
    if not any(side.seen for side in sides):
        return None
    seen = _with_sides(observations, sides)
    solution = solve(theta, seen)
    return ShaftFit(solution, seen, ReaderFrame(solution.cylinder, solution.camera, s0_mm))


def _with_sides(observations: Observations, sides: list[_Side]) -> Observations:
    left, right = sides
    return replace(
        observations,
        left_px=left.points_px,
        right_px=right.points_px,
        side_sd_px=(left.sd_px, right.sd_px),
        side_point_sd_px=(left.point_sd_px, right.point_sd_px),
    )


def _inside_fine_view(side: _Side, frame: ReaderFrame) -> bool:
    """Whether a silhouette as first seen lies in the fine view; where it was not seen nothing speaks against it."""
    if not side.seen:
        return True
    off_axis = frame.cylinder.axis_distance_mm(frame.camera.rays(side.points_px))
    u = float(np.median(np.abs(off_axis))) / frame.cylinder.radius_mm
    return abs(u - 1) < frame.fine_reach_u


def _largest_offset_u(sides: list[_Side]) -> float:
    """How far the view's axis and radius lay off the edges seen, in radii."""
    return max(float(np.abs(side.edge.u - 1.0).max()) for side in sides if side.seen)


def _inliers(edge: SilhouettePoints, reach_u: float) -> SilhouettePoints:
    """The points on the straight line that most of them lie on."""
    if len(edge.u) < MIN_POINTS:
        return SilhouettePoints(np.zeros(0), np.zeros(0), np.zeros(0))
    rows = edge.reader_rows
    line = np.array([0.0, float(np.median(edge.u))])
    near = INLIER_COLUMNS * edge_column_u(reach_u)
    within = 4 * near
    for _ in range(6):
        keep = np.abs(edge.u - np.polyval(line, rows)) < within
        if keep.sum() < MIN_POINTS:
            return SilhouettePoints(np.zeros(0), np.zeros(0), np.zeros(0))
        if np.ptp(rows[keep]) * READER_STEP_MM > CORRELATION_LENGTH_MM:
            line = np.polyfit(rows[keep], edge.u[keep], 1, w=1 / edge.sd_u[keep])
        else:
            line = np.array([0.0, float(np.median(edge.u[keep]))])
        within = max(within / 1.5, near)
    keep = np.abs(edge.u - np.polyval(line, rows)) < within
    return SilhouettePoints(rows[keep], edge.u[keep], edge.sd_u[keep])


def _side_sigma_px(edge: SilhouettePoints, frame: ReaderFrame, fine: bool) -> tuple[float, float]:
    """Standard uncertainties, px, of one silhouette as a whole and of one of its points."""
    if len(edge.u) == 0:
        return SILHOUETTE_SD_PX, SILHOUETTE_POINT_SD_PX
    px_per_radius, column = frame.px_per_radius, edge_column_u(_reach_u(frame, fine))
    soft = float(np.median(edge.sd_u))
    undecided = max(soft * 12**0.5 - SHARPEST_TRANSITION_COLUMNS * column, 0.0)
    line = np.polyfit(edge.reader_rows, edge.u, 1)
    scatter = float(np.std(edge.u - np.polyval(line, edge.reader_rows)))
    doubt = FINE_SIGMA if fine else COARSE_SIGMA
    of_edge = np.hypot(doubt.transition_factor * undecided, doubt.scatter_factor * scatter) * px_per_radius
    whole = np.hypot(doubt.floor_px, of_edge)
    # Points a millimetre apart err alike over CORRELATION_LENGTH_MM; and so many of them put a line's end this far off.
    point = max(soft * px_per_radius, 0.1) * np.sqrt(CORRELATION_LENGTH_MM / EDGE_STEP_MM)
    point = max(point, TILT_SHARE * whole * np.sqrt(len(edge.u) / 3))
    # The points' own doubt moves their mean, too.
    return float(whole * np.sqrt(1 - TILT_SHARE**2 / 3)), float(point)

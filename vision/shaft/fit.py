"""Fit of the shaft to its two silhouettes: coarse alignment, fine views, joint adjustment."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.adjustment.observations import Observations
from vision.adjustment.parameters import LOGF, camera_of, cylinder_of
from vision.adjustment.solve import Solution, gauss_newton_step, solve
from vision.geometry.views import EDGE_ROWS, EDGE_STEP_MM, ReaderFrame, rows_covering, view_length_mm
from vision.networks.run import EDGE_ROWS_MULTIPLE
from vision.shaft.edges import EdgeSearch, Side

# Margin of the views beyond the detected shaft, mm: behind coils the detection errs by a coil or two, and the networks
# need the context (a bumper and its perch take some 30 mm). Measured in docs/measured.md, "Speed".
BEYOND_SHAFT_MM = 40.0
# Factor on sigma where only the coarse view shows a silhouette (no source).
COARSE_ONLY_FACTOR = 2.0
# Passes over the silhouettes, each with a solve, and the largest offset, radii, between view and solution at which one
# pass is enough: a network's training views are off by some hundredths of the radius.
MAX_PASSES, CONVERGED_U = 2, 0.05
# Fine views of this half-width, radii, show a thin rod's silhouettes wherever the initial axis puts them. Those of a
# wider shaft are first aligned in coarse views, to within this share of the fine views' half-width, by so many
# Gauss-Newton steps.
FINE_DIRECT_REACH_U, FINE_REACH_SHARE, GAUSS_NEWTON_STEPS = 0.25, 0.5, 2
# A vague focal length runs away from silhouettes that contradict the diameter (to a hundredth, where both were seen 8 %
# too wide), and the view's frame with it. Where alignment moves its logarithm by more than this it is held instead: no
# view needs the focal length to a tenth.
MOST_FOCAL_MOVE, HELD_FOCAL_SD = 0.1, 0.01


@dataclass(frozen=True)
class ShaftFit:
    """Result of the fit to the silhouettes.

    Attributes
    ----------
    solution : Solution
    observations : Observations
        Including the silhouettes' points.
    frame : ReaderFrame or None
        Along the solution; None where rims were set by hand.
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
        Initial parameters.
    observations : Observations
        Without silhouette points.
    middle_mm : float
        Middle of the views along the axis.
    extent_mm : tuple of float, optional
        Stretch of the axis on which edges are searched for.

    Returns
    -------
    ShaftFit or None
        None where no row shows an edge of the bare shaft.
    """
    length_mm = EDGE_ROWS * EDGE_STEP_MM
    if extent_mm is not None:
        beyond_mm = BEYOND_SHAFT_MM
        length_mm = view_length_mm(extent_mm[1] - extent_mm[0] - 2 * beyond_mm, beyond_mm)
    s0 = middle_mm - 0.5 * length_mm
    edge_rows = round(length_mm / EDGE_STEP_MM)
    rows = (0, edge_rows)
    if extent_mm is not None:
        low, high = ((s - s0) / EDGE_STEP_MM for s in extent_mm)
        rows = rows_covering((low, high), edge_rows, EDGE_ROWS_MULTIPLE)
    search = EdgeSearch(pixels, rows, observations.declared.diameter_mm)
    frame = ReaderFrame(cylinder_of(theta), camera_of(theta, observations), s0)
    if frame.fine_reach_u < FINE_DIRECT_REACH_U:
        within_u = FINE_REACH_SHARE * frame.fine_reach_u
        frame, theta, first = _coarse_alignment(search, frame, theta, observations, within_u)
        # A silhouette that the fine view does not show is taken from the coarse one.
        sides = [
            near if near.seen and _inside_fine_view(far, frame) else far
            for near, far in zip(search.sides(frame, fine=True), first, strict=True)
        ]
        return _solve_with(theta, observations, sides, s0)
    fit: ShaftFit | None = None
    for _ in range(MAX_PASSES):
        sides = search.sides(frame, fine=True)
        again = _solve_with(theta, observations, sides, s0)
        if again is None:
            break
        fit = again
        assert fit.frame is not None
        frame, theta = fit.frame, fit.solution.theta
        if _largest_offset_u(sides) < CONVERGED_U:
            break
    if fit is None:
        # Between coils so little of a thin rod may show that only the coarse view finds it.
        _, theta, first = _coarse_alignment(search, frame, theta, observations, CONVERGED_U)
        sides = [
            replace(
                one, sd_px=COARSE_ONLY_FACTOR * one.sd_px, point_sd_px=COARSE_ONLY_FACTOR * one.point_sd_px
            )
            for one in first
        ]
        fit = _solve_with(theta, observations, sides, s0)
    return fit


def _coarse_alignment(
    search: EdgeSearch,
    frame: ReaderFrame,
    theta: np.ndarray,
    observations: Observations,
    within_u: float,
) -> tuple[ReaderFrame, np.ndarray, list[Side]]:
    """Align the frame by coarse views so that fine views contain the silhouettes.

    Parameters
    ----------
    within_u : float
        Largest offset between view and silhouettes, radii, at which one pass is enough.

    Returns
    -------
    frame : ReaderFrame
    theta : ndarray
        Its parameters.
    sides : list of Side
        In the coarse views.
    """
    sides: list[Side] = []
    for _ in range(MAX_PASSES):
        sides = search.sides(frame, fine=False)
        if not any(side.seen for side in sides):
            break
        seen = _with_sides(observations, sides)
        aligned = _stepped(theta, seen)
        if abs(aligned[LOGF] - theta[LOGF]) > MOST_FOCAL_MOVE:
            aligned = _stepped(theta, replace(seen, focal_rel_sd=HELD_FOCAL_SD))
        theta = aligned
        frame = ReaderFrame(cylinder_of(theta), camera_of(theta, observations), frame.s0_mm)
        if _largest_offset_u(sides) < within_u:
            break
    return frame, theta, sides


def _stepped(theta: np.ndarray, observations: Observations) -> np.ndarray:
    """Take the Gauss-Newton steps of the alignment."""
    for _ in range(GAUSS_NEWTON_STEPS):
        theta, _ = gauss_newton_step(theta, observations)
    return theta


def _solve_with(
    theta: np.ndarray, observations: Observations, sides: list[Side], s0_mm: float
) -> ShaftFit | None:
    """Solve with these silhouettes; None where neither was found."""
    if not any(side.seen for side in sides):
        return None
    seen = _with_sides(observations, sides)
    solution = solve(theta, seen)
    return ShaftFit(solution, seen, ReaderFrame(solution.cylinder, solution.camera, s0_mm))


def _with_sides(observations: Observations, sides: list[Side]) -> Observations:
    left, right = sides
    return replace(
        observations,
        left_px=left.points_px,
        right_px=right.points_px,
        side_sd_px=(left.sd_px, right.sd_px),
        side_point_sd_px=(left.point_sd_px, right.point_sd_px),
    )


def _inside_fine_view(side: Side, frame: ReaderFrame) -> bool:
    """Whether a silhouette of the coarse view lies in the fine one; true where it was not found."""
    if not side.seen:
        return True
    off_axis = frame.cylinder.axis_distance_mm(frame.camera.rays(side.points_px))
    u = float(np.median(np.abs(off_axis))) / frame.cylinder.radius_mm
    return abs(u - 1) < frame.fine_reach_u


def _largest_offset_u(sides: list[Side]) -> float:
    """Largest offset of the points from the view's axis and radius, radii."""
    return max(float(np.abs(side.edge.u - 1.0).max()) for side in sides if side.seen)

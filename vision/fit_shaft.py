"""The shaft in space from its two silhouettes: where the edge network sees them, and the solve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.evidence import SILHOUETTE_POINT_SD_PX, SILHOUETTE_SD_PX, Evidence
from vision.find_edges import SeenEdge, seen_edge
from vision.networks import EDGE_ROWS_MULTIPLE, edge_shares
from vision.residuals import camera_of, cylinder_of
from vision.solve import Solution, solve
from vision.views import (
    EDGE_COLUMNS,
    EDGE_ROWS,
    EDGE_STEP_MM,
    EDGE_U,
    READER_STEP_MM,
    ReaderFrame,
    edge_view,
    rows_covering,
)

# Rounds of looking along the silhouettes and solving, and the distance, in radii, between view and solution within
# which the first round is enough: training showed the network views off by some hundredths of the radius.
ROUNDS, NEAR_ENOUGH_U = 2, 0.05
# Points of one side needed to draw a line through them.
LEAST_POINTS = 4
# Points this far from their side's line, in radii (a column and a half of the view), are not on it.
NEAR_LINE_U = 0.015
# What a silhouette as a whole errs by besides `SILHOUETTE_SD_PX`: so many times the columns over which the network is
# undecided, beyond a sharp border's, and so many times its points' scatter about their line. Fitted together to 266
# edges of scenes kept out of training and 40 of path-traced photographs (Student's t of 4 degrees of freedom, 1.4 times
# its scale): a polished limb that mirrors what stands beside it hides the true edge, and is softer and less straight.
UNDECIDED_SHARE, SHARPEST_COLUMNS, SCATTER_TIMES = 0.4, 1.0, 0.95
# Rows of one edge that err together, mm along the shaft: a reflection or a smudge is about as long.
ALIKE_MM = 10.0
# How far an edge's ends are off, leaning, in parts of what it is off as a whole: what misleads it changes along
# the shaft. Of 216 edges of scenes longer than 50 mm 0.8 to 1.2; the axis' tilt in path-traced photographs of long
# shafts, twice as far off as told without this, says the same.
LEAN_SHARE = 0.8


@dataclass(frozen=True)
class ShaftFit:
    """The shaft found in space.

    Attributes
    ----------
    solution : Solution
    evidence : Evidence
        With the silhouette points in it.
    frame : ReaderFrame or None
        Laid along the solution; None where rims were set by hand.
    edges : tuple of SeenEdge
        The points used, at the card's smaller x and at its larger; none where rims were set by hand.
    """

    solution: Solution
    evidence: Evidence
    frame: ReaderFrame | None = None
    edges: tuple[SeenEdge, ...] = ()


def fit_shaft(
    pixels: np.ndarray,
    theta: np.ndarray,
    evidence: Evidence,
    middle_mm: float,
    extent_mm: tuple[float, float] | None = None,
) -> ShaftFit | None:
    """Find both silhouettes and solve for card, lens and shaft together.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    theta : ndarray
        Where to start.
    evidence : Evidence
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
    fit: ShaftFit | None = None
    for _ in range(ROUNDS):
        frame = ReaderFrame(cylinder_of(theta), camera_of(theta, evidence), s0)
        shares = edge_shares(
            (edge_view(pixels, frame, 1, rows), edge_view(pixels, frame, -1, rows)),
            evidence.declared.diameter_mm,
        )
        edges = tuple(_on_line(seen_edge(s, rows[0])) for s in shares)
        if not any(len(e.u) for e in edges):
            return fit
        (left, left_point), (right, right_point) = (_doubt(e, frame) for e in edges)
        seen = replace(
            evidence,
            left_px=edges[0].points_px(frame, 1),
            right_px=edges[1].points_px(frame, -1),
            side_sd_px=(left, right),
            side_point_sd_px=(left_point, right_point),
        )
        solution = solve(theta, seen)
        theta = solution.theta
        fit = ShaftFit(solution, seen, ReaderFrame(solution.cylinder, solution.camera, s0), edges)
        if _off_edges(edges) < NEAR_ENOUGH_U:
            break
    return fit


def _off_edges(edges: tuple[SeenEdge, ...]) -> float:
    """How far the view's axis and radius lay off the edges seen, in radii."""
    return max(float(np.abs(e.u - 1.0).max()) for e in edges if len(e.u))


def _on_line(edge: SeenEdge) -> SeenEdge:
    """The points on the straight line that most of them lie on."""
    if len(edge.u) < LEAST_POINTS:
        return SeenEdge(np.zeros(0), np.zeros(0), np.zeros(0))
    rows = edge.reader_rows
    line = np.array([0.0, float(np.median(edge.u))])
    within = 4 * NEAR_LINE_U
    for _ in range(6):
        keep = np.abs(edge.u - np.polyval(line, rows)) < within
        if keep.sum() < LEAST_POINTS:
            return SeenEdge(np.zeros(0), np.zeros(0), np.zeros(0))
        if np.ptp(rows[keep]) * READER_STEP_MM > ALIKE_MM:
            line = np.polyfit(rows[keep], edge.u[keep], 1, w=1 / edge.sd_u[keep])
        else:
            line = np.array([0.0, float(np.median(edge.u[keep]))])
        within = max(within / 1.5, NEAR_LINE_U)
    keep = np.abs(edge.u - np.polyval(line, rows)) < within
    return SeenEdge(rows[keep], edge.u[keep], edge.sd_u[keep])


def _doubt(edge: SeenEdge, frame: ReaderFrame) -> tuple[float, float]:
    """Standard uncertainties, px, of one silhouette as a whole and of one of its points."""
    if len(edge.u) == 0:
        return SILHOUETTE_SD_PX, SILHOUETTE_POINT_SD_PX
    px_per_radius = (
        frame.cylinder.radius_mm * frame.camera.focal_px / max(frame.cylinder.camera_distance_mm(), 1.0)
    )
    column = (EDGE_U[1] - EDGE_U[0]) / EDGE_COLUMNS
    soft = float(np.median(edge.sd_u))
    undecided = max(soft * 12**0.5 - SHARPEST_COLUMNS * column, 0.0)
    line = np.polyfit(edge.reader_rows, edge.u, 1)
    scatter = float(np.std(edge.u - np.polyval(line, edge.reader_rows)))
    of_edge = np.hypot(UNDECIDED_SHARE * undecided, SCATTER_TIMES * scatter) * px_per_radius
    whole = np.hypot(SILHOUETTE_SD_PX, of_edge)
    # Points a millimetre apart err alike over ALIKE_MM; and so many of them put a line's end this far off.
    point = max(soft * px_per_radius, 0.1) * np.sqrt(ALIKE_MM / EDGE_STEP_MM)
    point = max(point, LEAN_SHARE * whole * np.sqrt(len(edge.u) / 3))
    # The points' own doubt moves their mean, too.
    return float(whole * np.sqrt(1 - LEAN_SHARE**2 / 3)), float(point)

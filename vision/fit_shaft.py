"""The shaft in space from its silhouettes: which windows show them, which edges agree, and the solve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.cylinder import Cylinder
from vision.parts import Part
from vision.silhouettes import Agreement, EdgePoints, EdgeStrip, Expected, agree, edge_strip, points_near
from vision.solve import (
    SILHOUETTE_POINT_SD_PX,
    SILHOUETTE_SD_PX,
    Evidence,
    Solution,
    camera_of,
    cylinder_of,
    solve,
)
from vision.views import READER_ROWS, READER_STEP_MM, ReaderFrame

# Reach of the strip in each round of looking for the silhouettes, mm. The finder places the axis to about
# half a millimetre; after the first solve a third of that is left.
ROUNDS_MM = (3.0, 1.5)
# How well the reader network's border of shaft and background tells a silhouette, as a share of the radius
# (half a column of the view) and in mm at the least.
CLASS_EDGE_SHARE, CLASS_EDGE_MM = 0.035, 0.2
# Points needed before the edges in the picture count for more than the network's own border.
POINTS_NEEDED = 5
# Two pairs of lines whose scores differ by less than this cannot be told apart (log likelihood units).
RIVAL_LIMIT = 3.0
# Points this far from the agreed line are other edges, px.
NEAR_LINE_PX = 1.3


@dataclass(frozen=True)
class ShaftFit:
    """The shaft found in space.

    Attributes
    ----------
    solution : Solution
    evidence : Evidence
        With the silhouette points in it.
    edges : tuple of two EdgePoints
        On the axis' positive and negative side; none where rims were set by hand.
    agreement : Agreement or None
        Of the last round.
    """

    solution: Solution
    evidence: Evidence
    edges: tuple[EdgePoints, ...]
    agreement: Agreement | None


def rows_showing_edge(classes: np.ndarray, frame: ReaderFrame) -> dict[int, np.ndarray]:
    """In which rows of the reader view the bare shaft is seen up to either silhouette.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)

    Returns
    -------
    dict
        Side (+1, -1 as in `Cylinder.axis_distance_mm`) to an array of bool, one a row.
    """
    u = frame.u()
    shaft = classes[Part.SHAFT]
    front = classes[Part.IN_FRONT] + classes[Part.MARKER] + classes[Part.LOCK]
    seen = {}
    for side in (1, -1):
        # The card's x runs against the cylinder's positive side.
        at = -side * u
        inner = (at > 0.5) & (at < 0.92)
        outer = (at > 0.9) & (at < 1.25)
        seen[side] = (shaft[:, inner].mean(axis=1) > 0.6) & (front[:, outer].mean(axis=1) < 0.4)
    return seen


def fit_shaft(
    pixels: np.ndarray, theta: np.ndarray, evidence: Evidence, frame: ReaderFrame, classes: np.ndarray
) -> ShaftFit | None:
    """Find both silhouettes and solve for card, lens and shaft together.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    theta : ndarray
        Where to start.
    evidence : Evidence
        Without silhouette points.
    frame, classes
        The reader view and what it shows.

    Returns
    -------
    ShaftFit or None
        None where no window shows an edge of the bare shaft.
    """
    seen = rows_showing_edge(classes, frame)
    rows = np.flatnonzero(seen[1] | seen[-1])
    if len(rows) < 8:
        return None
    s_range = (float(frame.s_mm(rows[0])), float(frame.s_mm(rows[-1])))
    px_per_mm = evidence.sighting.px_per_mm
    sd_px = max(CLASS_EDGE_SHARE * frame.cylinder.radius_mm, CLASS_EDGE_MM) * px_per_mm
    borders = {side: class_edge(classes, frame, side, seen[side]) for side in (1, -1)}
    fit: ShaftFit | None = None
    for reach_mm in ROUNDS_MM:
        camera, cylinder = camera_of(theta, evidence), cylinder_of(theta)
        strips, in_use, expected = [], [], []
        for side in (1, -1):
            strip = edge_strip(pixels, camera, cylinder, side, s_range, max(reach_mm * px_per_mm, 4.0))
            strips.append(strip)
            in_use.append(_windows(seen[side], frame, strip.s_mm))
            expected.append(_expected(strip, borders[side], sd_px))
        if not any(u.any() for u in in_use):
            return None
        agreement = agree(
            (strips[0], strips[1]), (in_use[0], in_use[1]), cylinder, px_per_mm, (expected[0], expected[1])
        )
        edges = tuple(
            points_near(strip, np.where(use, offset, np.inf), NEAR_LINE_PX)
            for strip, use, offset in zip(strips, in_use, agreement.offset_px, strict=True)
        )
        found = sum(len(e.s_mm) for e in edges)
        if found >= POINTS_NEEDED:
            # A near rival line may be the true one: the side as a whole is then as doubtful as they lie apart.
            unsure = agreement.rival > -RIVAL_LIMIT
            evidence = replace(
                evidence,
                left_px=edges[0].points_px,
                right_px=edges[1].points_px,
                side_sd_px=float(np.hypot(SILHOUETTE_SD_PX, sd_px)) if unsure else SILHOUETTE_SD_PX,
                side_point_sd_px=SILHOUETTE_POINT_SD_PX,
            )
        else:
            evidence = replace(
                evidence,
                left_px=borders[1],
                right_px=borders[-1],
                side_sd_px=sd_px,
                side_point_sd_px=2 * sd_px,
            )
        solution = solve(theta, evidence)
        theta = solution.theta
        fit = ShaftFit(solution, evidence, (edges[0], edges[1]), agreement)
    return fit


def class_edge(classes: np.ndarray, frame: ReaderFrame, side: int, rows_seen: np.ndarray) -> np.ndarray:
    """Where the network sees one silhouette, as image points along a straight line.

    In each row the class probabilities are summed from the middle outwards: a soft edge, good to a small part
    of a column. Rows are joined by a robust line.

    Returns
    -------
    ndarray of shape (n, 2)
        One point a millimetre, px; empty where fewer than four rows show the edge.
    """
    rows = np.flatnonzero(rows_seen)
    if len(rows) < 4:
        return np.zeros((0, 2))
    u = frame.u()
    half = (-side * u) > 0
    on = classes[Part.SHAFT] + classes[Part.MARKER]
    edge = on[np.ix_(rows, np.flatnonzero(half))].sum(axis=1) * (u[1] - u[0])
    line = np.array([0.0, float(np.median(edge))])
    keep = np.abs(edge - line[1]) < 0.25
    if keep.sum() >= 4 and np.ptp(rows[keep]) > 20:
        line = np.polyfit(rows[keep], edge[keep], 1)
    at = rows[:: max(int(1.0 / READER_STEP_MM), 1)]
    points = frame.points_cam(at.astype(float), -side * np.polyval(line, at))
    return frame.camera.project(points)


def _expected(strip: EdgeStrip, border_px: np.ndarray, sd_px: float) -> Expected:
    """The network's border relative to a predicted silhouette; unknown where it saw none."""
    if len(border_px) == 0 or len(strip.s_mm) < 2:
        return Expected(0.0, 0.0, 6 * sd_px)
    nearest = np.argmin(np.linalg.norm(border_px[:, None] - strip.line_px[None], axis=2), axis=1)
    away = np.sum((border_px - strip.line_px[nearest]) * strip.normal_px[nearest], axis=1)
    place = 2 * nearest / (len(strip.s_mm) - 1) - 1
    if np.ptp(place) < 0.3:
        return Expected(float(np.median(away)), 0.0, sd_px)
    slope, offset = np.polyfit(place, away, 1)
    return Expected(float(offset), float(slope), sd_px)


def _windows(rows_seen: np.ndarray, frame: ReaderFrame, s_mm: np.ndarray) -> np.ndarray:
    """Which windows lie wholly on rows that show the edge."""
    row = np.rint((s_mm - frame.s0_mm) / READER_STEP_MM).astype(int)
    reach = 2
    ok = np.ones(len(s_mm), bool)
    for shift in (-reach, 0, reach):
        ok &= rows_seen[np.clip(row + shift, 0, READER_ROWS - 1)]
    return ok


def shifted(before: Cylinder, after: Cylinder, s_mm: float) -> float:
    """How far sideways, mm, the axis moved at s, as the camera sees it."""
    _, sideways = after.basis()
    return float(
        np.dot(after.point_cam + s_mm * after.axis_cam - before.point_cam - s_mm * before.axis_cam, sideways)
    )

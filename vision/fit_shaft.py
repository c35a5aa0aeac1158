"""The shaft in space from its silhouettes: which windows show them, which edges agree, and the solve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.cylinder import Cylinder
from vision.parts import Part
from vision.silhouettes import Agreement, EdgePoints, agree, edge_strip, points_near
from vision.solve import Evidence, Solution, camera_of, cylinder_of, solve
from vision.views import READER_ROWS, READER_STEP_MM, ReaderFrame

# Rounds of looking for the silhouettes: (reach of the strip, sd of the axis sideways, both mm). The finder
# places the axis to about half a millimetre; after the first solve a third of that is left.
ROUNDS_MM = ((3.0, 0.7), (1.2, 0.3))
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
    fit: ShaftFit | None = None
    for reach_mm, lateral_sd_mm in ROUNDS_MM:
        camera, cylinder = camera_of(theta, evidence), cylinder_of(theta)
        strips, in_use = [], []
        for side in (1, -1):
            strip = edge_strip(pixels, camera, cylinder, side, s_range, max(reach_mm * px_per_mm, 4.0))
            strips.append(strip)
            in_use.append(_windows(seen[side], frame, strip.s_mm))
        if not any(u.any() for u in in_use):
            return None
        agreement = agree((strips[0], strips[1]), (in_use[0], in_use[1]), cylinder, px_per_mm, lateral_sd_mm)
        edges = tuple(
            points_near(strip, np.where(use, offset, np.inf), NEAR_LINE_PX)
            for strip, use, offset in zip(strips, in_use, agreement.offset_px, strict=True)
        )
        evidence = replace(evidence, left_px=edges[0].points_px, right_px=edges[1].points_px)
        solution = solve(theta, evidence)
        theta = solution.theta
        fit = ShaftFit(solution, evidence, (edges[0], edges[1]), agreement)
    return fit


def _windows(rows_seen: np.ndarray, frame: ReaderFrame, s_mm: np.ndarray) -> np.ndarray:
    """Which windows lie wholly on rows that show the edge."""
    row = np.rint((s_mm - frame.s0_mm) / READER_STEP_MM).astype(int)
    reach = 3
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

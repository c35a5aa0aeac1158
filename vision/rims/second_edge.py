"""A second edge across the shaft before an end: which of both is the end is then open.

A collar as wide and as bright as its tube is bare shaft to both networks, and the end is put below it; where it meets
the tube both see something across the shaft, and neither of them knows what.
"""

from __future__ import annotations

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.names import RimName
from vision.networks.classes import Part
from vision.rims.bow import arc_mm
from vision.rims.second_opinion import SecondOpinion

SECOND_EDGE = "may be another part's: a second edge lies before it"
# Columns looked at, radii: all but the rims of the silhouettes, where the classes blur into what lies beside.
LOOKED_AT_U = 0.85
# Not looked at, mm: next to an end, where its own border blurs; next to the marker, where a tie's lock reaches
# (`scenes` has locks of 5 mm).
BESIDE_END_MM, BESIDE_MARKER_MM = 4.0, 6.0
# Length along the shaft over which the classes are averaged, mm: of the lips and seams that end a shaft the narrowest.
AVERAGED_MM = 2.25
# Mean probability over the columns that a network gives to a seal, a band or a far end, from which an edge lies there.
# Of 215 readings of eight sets that have a length right, neither network's is over 0.05 where the other's is not, but
# for a second ring; of the three whose seal was put below a collar both are over 0.14.
SEEN = 0.1
# Share of that which is a band's, from which the edge is a ring's: rings lie round shafts, and are no end.
A_RING = 0.75

_PARTS = [Part.SEAL, Part.MARKER, Part.FAR_END]
# For either end: from it towards the middle along the axis, and what comes next there.
_NEXT = {
    RimName.SEAL: (1, (RimName.MARKER_NEAR, RimName.FAR_END)),
    RimName.FAR_END: (-1, (RimName.MARKER_FAR, RimName.SEAL)),
}


def second_edges(
    rims: dict[RimName, RimPoints], first: np.ndarray, second: SecondOpinion, frame: ReaderFrame
) -> tuple[RimName, ...]:
    """Name the ends before which, on the side of the marker, both networks see another edge across the shaft.

    Parameters
    ----------
    rims : dict of RimName to RimPoints
        As seen in the view along the shaft.
    first : ndarray of shape (7, rows, columns)
        What the first network sees in that view.
    second : SecondOpinion
        Asked only where the first sees such an edge.
    frame : ReaderFrame
        Of the view.
    """
    return tuple(
        end
        for end, (inwards, others) in _NEXT.items()
        if end in rims
        for other in [name for name in others if name in rims][:1]
        if _edge_seen_by_both(_rows_between(rims, end, other, inwards, frame), first, second, frame)
    )


def _rows_between(
    rims: dict[RimName, RimPoints], end: RimName, other: RimName, inwards: int, frame: ReaderFrame
) -> np.ndarray:
    """Rows of the view from an end to the marker, or half way to the other end, shape (n, columns)."""
    start, arc = _row_and_arc(rims[end], frame)
    stop, _ = _row_and_arc(rims[other], frame)
    if other in _NEXT:
        stop = 0.5 * (start + stop)
    else:
        stop -= inwards * BESIDE_MARKER_MM / READER_STEP_MM
    along = np.arange(start + inwards * BESIDE_END_MM / READER_STEP_MM, stop, inwards)
    return np.asarray(np.rint(along[:, None] + arc), int)


def _edge_seen_by_both(
    rows: np.ndarray, first: np.ndarray, second: SecondOpinion, frame: ReaderFrame
) -> bool:
    """Whether both networks see an edge in one place, and not both a ring."""
    if len(rows) < AVERAGED_MM / READER_STEP_MM:
        return False
    columns = _columns(frame)
    one = _mean_over_columns(first, rows, columns)
    if one.sum(axis=0).max() < SEEN:
        return False
    other = _mean_over_columns(second.alone, rows, columns)
    edge = np.minimum(one.sum(axis=0), other.sum(axis=0))
    at = int(np.argmax(edge))
    is_ring = all(seen[1, at] > A_RING * seen[:, at].sum() for seen in (one, other))
    return bool(edge[at] > SEEN and not is_ring)


def _columns(frame: ReaderFrame) -> np.ndarray:
    return np.flatnonzero(np.abs(frame.u()) < LOOKED_AT_U)


def _row_and_arc(rim: RimPoints, frame: ReaderFrame) -> tuple[float, np.ndarray]:
    """Row of a rim's middle in the view, and how far each column's row lies from it, by an arc through its points."""
    rows, u = frame.at(rim.points_px)
    heights = arc_mm(1.0, np.clip(u, -LOOKED_AT_U, LOOKED_AT_U), 1.0)
    slope, row = np.polyfit(heights, rows, 1) if np.ptp(heights) > 0 else (0.0, float(np.median(rows)))
    return float(row), arc_mm(float(slope), frame.u()[_columns(frame)], 1.0)


def _mean_over_columns(seen: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Probabilities of `_PARTS` along the shaft, shape (3, rows), averaged over the columns and `AVERAGED_MM`."""
    within = np.clip(rows, 0, seen.shape[1] - 1)
    across = np.stack([seen[part][within, columns].mean(axis=1) for part in _PARTS])
    kernel = np.ones(round(AVERAGED_MM / READER_STEP_MM))
    return np.stack([np.convolve(one, kernel / len(kernel), mode="valid") for one in across])

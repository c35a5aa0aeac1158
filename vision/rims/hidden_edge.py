"""The marker's seal-side edge where a coil stands before it: from its other edge and the width of its band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame, reader_columns
from vision.networks.classes import Part
from vision.rims.candidates import RimCandidate

# Widths of markers' bands, mm: ties 2.5, 3.6 and 4.8, sections of O-rings 2 to 4 (trade figures).
NARROWEST_MM, WIDEST_MM = 2.0, 4.8
# A stated width is good to this, mm (sd): a caliper's 0.1, and how square the band lies.
STATED_SD_MM = 0.15
# The other edge must be this clear, clearer than one of two that are seen, and show in this share of the columns: a
# coil's shadow fills two or three. Of 300 scenes and photographs nine show such an edge: seven at 0.79 to 1.00, right
# within 0.4 mm, and two at 0.74, one of them 1.7 mm off.
LEAST_CLARITY, LEAST_SHARE = 0.85, 0.25
# Of the columns that show the band so many must show something in front of its seal's side.
COVERED_SHARE = 0.5

USUAL = (
    f"The marker's seal-side edge is hidden: it is taken to lie a usual width of {NARROWEST_MM:g} to {WIDEST_MM:g} mm "
    "from the other edge. State --marker-width to know it better, or move so that nothing stands before it."
)
STATED = "The marker's seal-side edge is hidden: it is taken to lie the stated width from the other edge."


@dataclass(frozen=True)
class HiddenEdge:
    """A marker of which the seal-side edge is hidden.

    Attributes
    ----------
    near, end : RimCandidate
        Where the hidden edge must lie, in the columns that show the other one; and that one.
    sd_mm : float
        Standard uncertainty of the distance between both.
    remark : str
        What the person should know of it.
    """

    near: RimCandidate
    end: RimCandidate
    sd_mm: float
    remark: str


def hidden_edge(
    best: np.ndarray, ends: list[RimCandidate], frame: ReaderFrame, width_mm: float | None
) -> HiddenEdge | None:
    """Tell where the edge lies of a marker whose seal's side something in front hides.

    Parameters
    ----------
    best : ndarray of shape (rows, columns)
        Likeliest parts (`vision.rims.candidates.most_likely`).
    ends : list of RimCandidate
        Edges at which a marker ends and bare shaft, or the far end, follows.
    frame : ReaderFrame
    width_mm : float or None
        Stated width of the band.

    Returns
    -------
    HiddenEdge or None
        None where there is no such edge, or more than one, or where nothing stands before the band.
    """
    clear = [e for e in ends if e.clarity >= LEAST_CLARITY and e.share >= LEAST_SHARE]
    if len(clear) != 1:
        return None
    (end,) = clear
    seen_mm = _seen_mm(best, end, frame)
    if seen_mm is None or seen_mm > (WIDEST_MM if width_mm is None else width_mm):
        return None
    if width_mm is not None:
        return HiddenEdge(_moved(end, width_mm, frame), end, STATED_SD_MM, STATED)
    # Any width from what is seen of it to the widest is as likely as any other (GUM 4.3.7: a uniform distribution).
    least = max(seen_mm, NARROWEST_MM)
    middle, sd = 0.5 * (least + WIDEST_MM), (WIDEST_MM - least) / np.sqrt(12.0)
    return HiddenEdge(_moved(end, middle, frame), end, float(np.hypot(sd, STATED_SD_MM)), USUAL)


def _seen_mm(best: np.ndarray, end: RimCandidate, frame: ReaderFrame) -> float | None:
    """How much of the band shows before its end, mm; None where nothing in front cuts it off."""
    columns = reader_columns(end.u)
    seen, covered = [], 0
    for column, row in zip(columns, end.rows, strict=True):
        above = best[: int(row) + 1, column][::-1]
        band = (above == Part.MARKER) | (above == Part.LOCK)
        length = len(band) if band.all() else int(np.argmin(band))
        seen.append(length)
        covered += length < len(above) and above[length] == Part.IN_FRONT
    if covered < COVERED_SHARE * len(columns):
        return None
    return float(np.median(np.array(seen) / _rows_per_mm(end.u, frame)))


def _moved(end: RimCandidate, towards_seal_mm: float, frame: ReaderFrame) -> RimCandidate:
    rows = end.rows - towards_seal_mm * _rows_per_mm(end.u, frame)
    return replace(end, rows=rows, s_mm=end.s_mm - towards_seal_mm)


def _rows_per_mm(u: np.ndarray, frame: ReaderFrame) -> np.ndarray:
    """Rows to a mm along the shaft's surface, which lies before the view's plane, at some places across it."""
    distance_mm = frame.cylinder.camera_distance_mm()
    before_mm = frame.cylinder.radius_mm * np.sqrt(np.clip(1 - u**2, 0.0, 1.0))
    return np.asarray(distance_mm / (distance_mm - before_mm) / READER_STEP_MM)

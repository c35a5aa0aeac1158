"""The marker's seal-side edge behind a coil: from its other edge and the width of its band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame, reader_columns
from vision.networks.classes import Part, PartMap
from vision.rims.candidates import RimCandidate

# Widths of markers' bands, mm: ties 2.5, 3.6 and 4.8, sections of O-rings 2 to 4 (trade figures).
NARROWEST_MM, WIDEST_MM = 2.0, 4.8
# Standard uncertainty of a declared width, mm: a caliper's 0.1, and how square the band lies.
DECLARED_WIDTH_SD_MM = 0.15
# Least clarity and share of the visible edge, which must be clearer than one of two visible ones: a coil's shadow fills
# two or three columns. Of 300 scenes and photographs nine show such an edge: seven at 0.79 to 1.00, right within
# 0.4 mm, and two at 0.74, one of them 1.7 mm off.
MIN_CLARITY_ALONE, MIN_SHARE_ALONE = 0.85, 0.25
# Least share of the columns with the band that show something in front of its seal's side.
MIN_COVERED_SHARE = 0.5

ASSUMED_WIDTH_REMARK = (
    f"The marker's seal-side edge is hidden: a usual width of {NARROWEST_MM:g} to {WIDEST_MM:g} mm from the other edge "
    "is assumed. Give --marker-width for a smaller uncertainty, or move so that nothing blocks the view."
)
DECLARED_WIDTH_REMARK = (
    "The marker's seal-side edge is hidden: its position is the given width from the other edge."
)


@dataclass(frozen=True)
class HiddenEdge:
    """A marker whose seal-side edge is hidden.

    Attributes
    ----------
    near, end : RimCandidate
        The hidden edge as derived, in the columns that show the other one; and that one.
    sd_mm : float
        Standard uncertainty of the distance between both.
    remark : str
        What the user should know of it.
    """

    near: RimCandidate
    end: RimCandidate
    sd_mm: float
    remark: str


def hidden_edge(parts: PartMap, ends: list[RimCandidate], width_mm: float | None) -> HiddenEdge | None:
    """Derive the position of an edge that something in front of the marker hides.

    Parameters
    ----------
    parts : PartMap
    ends : list of RimCandidate
        Edges at which a marker ends and bare shaft, or the far end, follows.
    width_mm : float or None
        Declared width of the band.

    Returns
    -------
    HiddenEdge or None
        None where there is no such edge, or more than one, or where nothing is in front of the band.
    """
    clear = [e for e in ends if e.clarity >= MIN_CLARITY_ALONE and e.share >= MIN_SHARE_ALONE]
    if len(clear) != 1:
        return None
    (end,) = clear
    seen_mm = _seen_mm(parts, end)
    if seen_mm is None or seen_mm > (WIDEST_MM if width_mm is None else width_mm):
        return None
    if width_mm is not None:
        moved = _moved(end, width_mm, parts.frame)
        return HiddenEdge(moved, end, DECLARED_WIDTH_SD_MM, DECLARED_WIDTH_REMARK)
    # Uniform between what is seen of it and the widest band (JCGM 100:2008, 4.3.7).
    least = max(seen_mm, NARROWEST_MM)
    middle, sd = 0.5 * (least + WIDEST_MM), (WIDEST_MM - least) / np.sqrt(12.0)
    sd_mm = float(np.hypot(sd, DECLARED_WIDTH_SD_MM))
    return HiddenEdge(_moved(end, middle, parts.frame), end, sd_mm, ASSUMED_WIDTH_REMARK)


def _seen_mm(parts: PartMap, end: RimCandidate) -> float | None:
    """Visible width of the band before its end, mm; None where nothing in front cuts it off."""
    columns = reader_columns(end.u)
    seen, covered = [], 0
    for column, row in zip(columns, end.rows, strict=True):
        above = parts.likeliest[: int(row) + 1, column][::-1]
        band = (above == Part.MARKER) | (above == Part.LOCK)
        length = len(band) if band.all() else int(np.argmin(band))
        seen.append(length)
        covered += length < len(above) and above[length] == Part.IN_FRONT
    if covered < MIN_COVERED_SHARE * len(columns):
        return None
    return float(np.median(np.array(seen) / _rows_per_mm(end.u, parts.frame)))


def _moved(end: RimCandidate, towards_seal_mm: float, frame: ReaderFrame) -> RimCandidate:
    rows = end.rows - towards_seal_mm * _rows_per_mm(end.u, frame)
    return replace(end, rows=rows, s_mm=end.s_mm - towards_seal_mm)


def _rows_per_mm(u: np.ndarray, frame: ReaderFrame) -> np.ndarray:
    """Rows per mm along the shaft's surface, which lies in front of the view's plane, at lateral positions u."""
    distance_mm = frame.cylinder.camera_distance_mm()
    in_front_mm = frame.cylinder.radius_mm * np.sqrt(np.clip(1 - u**2, 0.0, 1.0))
    return np.asarray(distance_mm / (distance_mm - in_front_mm) / READER_STEP_MM)

"""Choice of the marker among the bands round the shaft, and of its two edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM, reader_columns
from vision.names import LengthName
from vision.networks.classes import Part, PartMap
from vision.reading import Note
from vision.reasons import Reason
from vision.rims.bow import SAME_RIM_MM
from vision.rims.candidates import Borders, RimCandidate
from vision.rims.evidence import NOTHING_STATED, Evidence
from vision.rims.hidden_edge import HiddenEdge, hidden_edge
from vision.rims.stands_out import NOT_ROUND_MM, STANDS_OUT_MM, stands_out_mm

# Widths of a band that can be a marker, mm: ties 2.5 to 4.8, O-rings 2 to 4 (trade figures), and blur.
BAND_MM = (1.2, 6.5)
# Tolerance about a declared width, mm: blur at either edge.
WIDTH_TOLERANCE_MM = 1.2
# A second band of this share of the first one's weight makes the marker ambiguous. Of two bands alike, pasted into four
# photos, the fainter one had 0.4 to 0.7 of the other's weight where it was seen at all.
RIVAL_SHARE = 0.25
# Share of the columns times clarity from which a band is certainly the marker.
CLEAR_MARKER = 0.85
# A band that begins this close to the seal, mm, may be the seal's own lip: another band takes precedence.
LIP_MM = 2.0
# Least clarity of a marker's edge: of 131 markers of photos whose lengths are right the least has 0.85; a dirty ring
# that shows as a band in some copies of a photo has 0.64 to 0.66.
MIN_CLARITY = 0.75
# Below this share of the columns, or where a band shows but one edge, a border must have this clarity.
FEW_SHARE, FEW_CLARITY = 0.3, 0.8
# Tolerance, mm, about the stretch between seal and far end in which the marker must lie (no source).
OUTSIDE_MM = 1.5
# Part behind the marker's edge that is searched for the far end, mm: more than a band and its lock.
TOUCH_SEARCH_MM = 9
# On one of 176 scenes kept out of training a black tie against a black seal was taken for part of it.
MAY_BE_SEAL_LIP_NOTE = (
    "; a marker that lies against the seal may have been taken for its lip: then the exposed length is too short by "
    "the marker's width"
)
_BEFORE_MARKER, _AFTER_MARKER = (Part.SHAFT, Part.SEAL), (Part.SHAFT, Part.FAR_END)


@dataclass(frozen=True)
class MarkerEdges:
    """The marker's two edges.

    Attributes
    ----------
    near, end : RimCandidate or None
        At the seal's side, and away from it.
    hidden : HiddenEdge or None
        Set where the near edge is hidden and derived from the other one.
    note : Note or None
        Why there is no near edge.
    """

    near: RimCandidate | None = None
    end: RimCandidate | None = None
    hidden: HiddenEdge | None = None
    note: Note | None = None


@dataclass(frozen=True)
class _Band:
    """A band that may be the marker: its edges, and how far it stands out, mm; None where that is not seen."""

    near: RimCandidate
    end: RimCandidate | None
    out_mm: float | None

    @property
    def flush(self) -> bool:
        """Whether it stands out less than any marker: a ring of grease, a line, a reflection."""
        return self.out_mm is not None and self.out_mm < STANDS_OUT_MM


def _band(found: Borders, near: RimCandidate, end: RimCandidate | None) -> _Band:
    return _Band(near, end, stands_out_mm(found.parts, near, end))


def choose_marker(
    found: Borders,
    width_mm: float | None,
    seal: RimCandidate | None,
    far: RimCandidate | None,
    evidence: Evidence = NOTHING_STATED,
) -> MarkerEdges:
    """Choose the marker's edges.

    Parameters
    ----------
    found : Borders
    width_mm : float or None
        Declared width of the band.
    seal, far : RimCandidate or None
        Between which it must lie.
    evidence : Evidence, optional
    """
    near, end, rival = _pair(found, width_mm, seal, far, evidence)
    colour = evidence.colour
    other = colour.contradiction(near, end) if colour is not None and near is not None else None
    if other is not None and colour is not None:
        detail = f"the only band found is {other}, but the marker is stated to be {colour.stated}"
        return _none(Reason.MARKER_UNCLEAR, detail)
    if rival:
        return _none(Reason.MARKER_UNCLEAR, "more than one band round the shaft could be the marker")
    if near is not None and evidence.is_painted(near, end):
        detail = (
            "the only band found does not stand out beside the shaft: paint, grease or a line, and no marker"
        )
        return _none(Reason.NO_MARKER, detail)
    hidden = None
    if near is None:
        low, high = _reach_mm(seal, far)
        ends = found.rims((Part.MARKER,), _AFTER_MARKER)
        hidden = hidden_edge(found.parts, [c for c in ends if low <= c.s_mm <= high], width_mm)
        near, end = (hidden.near, hidden.end) if hidden else (None, None)
    if near is None:
        found_none = "no marker was seen on the visible shaft"
        return _none(Reason.NO_MARKER, found_none + (MAY_BE_SEAL_LIP_NOTE if seal else ""))
    if _on_the_seal(near, seal, found):
        return _none(
            Reason.MARKER_UNCLEAR,
            "the only band found sits on the seal itself: the marker has not moved yet, or it is the seal's lip",
        )
    return MarkerEdges(near, end, hidden)


def _none(reason: Reason, detail: str) -> MarkerEdges:
    return MarkerEdges(note=Note(reason, LengthName.MARKER, detail))


def _on_the_seal(near: RimCandidate, seal: RimCandidate | None, found: Borders) -> bool:
    """Whether the band found sits on the seal, with no bare shaft between.

    Where the seal's edge was not found, a band that follows on the seal's part is as likely a ring of the gland.
    """
    if seal is None:
        return _follows_seal(near, found.parts)
    if near.s_mm - seal.s_mm >= LIP_MM:
        return False
    after_shaft = found.rims((Part.SHAFT,), (Part.MARKER,))
    return not any(abs(c.s_mm - near.s_mm) < SAME_RIM_MM for c in after_shaft)


def _follows_seal(near: RimCandidate, parts: PartMap) -> bool:
    """Whether the seal's part, rather than bare shaft, is what is seen before a band, up to twice `LIP_MM`."""
    count = round(2 * LIP_MM / READER_STEP_MM)
    rows = np.rint(near.rows).astype(int)[:, None] - 1 - np.arange(count)
    columns = reader_columns(near.u)[:, None]
    before = parts.likeliest[np.clip(rows, 0, None), columns]
    return bool(np.mean(before == Part.SEAL) > 0.5)


def clear_marker_row(found: Borders, width_mm: float | None) -> float | None:
    """Row of the seal-side edge of a band that can only be the marker: whole, clear, with bare shaft on both sides."""
    before = found.rims((Part.SHAFT,), (Part.MARKER,))
    near, end, _ = _pair(found, width_mm, None, None, NOTHING_STATED)
    if near is None or end is None or min(near.weight, end.weight) < CLEAR_MARKER:
        return None
    if not any(abs(c.s_mm - near.s_mm) < SAME_RIM_MM and c.weight >= CLEAR_MARKER for c in before):
        return None
    return float(near.rows.min())


def _pair(
    found: Borders,
    width_mm: float | None,
    seal: RimCandidate | None,
    far: RimCandidate | None,
    evidence: Evidence,
) -> tuple[RimCandidate | None, RimCandidate | None, bool]:
    """Find the marker's two edges, and whether another band rivals it."""
    starts = found.rims(_BEFORE_MARKER, (Part.MARKER,))
    ends = found.rims((Part.MARKER,), _AFTER_MARKER)
    low, high = _reach_mm(seal, far)
    scored: list[_Band] = []
    for start in starts:
        if start.clarity < MIN_CLARITY or not low <= start.s_mm <= high:
            continue
        narrowest_mm, widest_mm = band_limits_mm(width_mm)
        pairs = [e for e in ends if narrowest_mm <= e.s_mm - start.s_mm <= widest_mm]
        end = max(pairs, key=weight, default=None)
        # A sliver before a coil may be the coil's own shadow: without its other edge a band must be clear.
        if end is None and start.clarity < FEW_CLARITY:
            continue
        band = _band(found, start, end)
        if band.out_mm is None or band.out_mm >= NOT_ROUND_MM:
            scored.append(band)
    scored.sort(key=lambda x: -(x.near.weight + weight(x.end)))
    if seal is not None and any(x.near.s_mm > seal.s_mm + LIP_MM for x in scored):
        scored = [x for x in scored if x.near.s_mm > seal.s_mm + LIP_MM]
    if not scored:
        return None, None, False
    colour = evidence.colour
    if colour is not None:
        scored = [x for x in scored if colour.contradiction(x.near, x.end) is None] or scored
    scored = [x for x in scored if not evidence.is_painted(x.near, x.end)] or scored
    # A ring of grease may be as clear as the marker beside it, but does not stand out.
    scored = [x for x in scored if not x.flush] or scored
    best = scored[0]
    # The network was trained with one marker a shaft, so of two alike it shows one faintly: faint bands with bare shaft
    # before them, clear of the seal's lip, count as rivals.
    clear_of_lip = low + LIP_MM + OUTSIDE_MM
    others = [c for c in found.rims((Part.SHAFT,), (Part.MARKER,)) if clear_of_lip < c.s_mm <= high]
    rival = any(
        c.weight > RIVAL_SHARE * best.near.weight
        and abs(c.s_mm - best.near.s_mm) > BAND_MM[1]
        and (colour is None or colour.contradiction(c, None) is None)
        and evidence.may_be_marker(c, seal, far)
        and not (not best.flush and _band(found, c, _end_of(c, ends)).flush)
        and not evidence.is_painted(c, _end_of(c, ends))
        for c in others
    )
    return best.near, best.end, rival


def _end_of(start: RimCandidate, ends: list[RimCandidate]) -> RimCandidate | None:
    """Find the other edge of a band, of any width that a marker has."""
    pairs = [e for e in ends if BAND_MM[0] <= e.s_mm - start.s_mm <= BAND_MM[1]]
    return max(pairs, key=weight, default=None)


def band_limits_mm(width_mm: float | None) -> tuple[float, float]:
    """Limits of the width of a band that may be the marker, for a declared width or none."""
    return BAND_MM if width_mm is None else (width_mm - WIDTH_TOLERANCE_MM, width_mm + WIDTH_TOLERANCE_MM)


def _reach_mm(seal: RimCandidate | None, far: RimCandidate | None) -> tuple[float, float]:
    """Stretch of the axis on which a marker's edge can lie."""
    return (seal.s_mm - OUTSIDE_MM if seal else -np.inf), (far.s_mm + OUTSIDE_MM if far else np.inf)


def touches(parts: PartMap, near: RimCandidate) -> bool:
    """Whether marker and far end follow each other without bare shaft between."""
    columns = np.unique(reader_columns(near.u))
    rows = np.interp(parts.frame.u()[columns], np.sort(near.u), near.rows[np.argsort(near.u)])
    hits = 0
    for column, row in zip(columns, rows, strict=True):
        below = parts.likeliest[int(row) + 2 : int(row) + 2 + int(TOUCH_SEARCH_MM / READER_STEP_MM), column]
        other = below[(below != Part.MARKER) & (below != Part.LOCK)]
        hits += len(other) > 0 and other[0] == Part.FAR_END
    return hits > 0.5 * len(columns)


def weight(c: RimCandidate | None) -> float:
    """Weight of a rim, 0 where there is none."""
    return c.weight if c else 0.0

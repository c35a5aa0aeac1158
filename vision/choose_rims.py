"""Which of the borders in the reader view are the seal, the marker's edges and the far end."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from vision.evidence import RimPoints
from vision.parts import Part
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rim_points import far_points, marker_points, seal_points
from vision.rims import (
    SAME_RIM_MM,
    Border,
    RimCandidate,
    borders,
    candidates,
    lip_taken_back,
    most_likely,
)
from vision.shaft_pattern import with_pattern
from vision.solve import Solution
from vision.views import READER_STEP_MM, ReaderFrame

# Below this clarity (mean class probability on the worse side of a border, times the share of the visible
# columns that show it) a border is a guess. Set on scenes kept out of training.
LEAST_CLARITY = 0.55
# Below this share of the columns, or where a band shows but one edge, a border must be as clear as this.
FEW_SHARE, FEW_CLARITY = 0.3, 0.8
# A band as wide as this, mm, can be a marker: ties 2.5 to 4.8, O-rings 2 to 4 (trade figures), and blur.
BAND_MM = (1.2, 6.5)
# A second band with this share of the first one's weight: it cannot be told which of them is the marker. Of two
# bands alike, pasted into four photos, the fainter one had 0.4 to 0.7 of the other's weight where it was seen at all.
RIVAL_SHARE = 0.25
# Share of the columns times clarity from which a band is surely the marker.
CLEAR_MARKER = 0.85
# No lower clamp or axle foot is longer along the leg, mm (trade figures: 25 to 60), and the next clamp is farther
# away than this: what comes between is a gaiter.
LONGEST_CLAMP_MM, CLAMPS_APART_MM = 90.0, 120.0
# A card is laid backwards only where both ends say so, this many times as clearly as the right way round.
BACKWARDS_TIMES = 2.0
# A shaft ends once: where columns with this share of the far end's weight show it end so much earlier, mm, it is not
# known where. Of 110 photos one did: a polished clamp showed the shaft once more, and that was taken for it.
SECOND_END_SHARE, SECOND_END_MM = 0.2, 3.0
# On one of 176 scenes kept out of training a black tie against a black seal could not be told from it.
PASSES_FOR_LIP = (
    "; one left against the seal may pass for its lip, the exposed length being short by its width"
)
# A band that begins this close to the seal, mm, may be the seal's own lip: another band goes before it.
LIP_MM = 2.0


@dataclass(frozen=True)
class Choice:
    """The rims that count, or why not.

    Attributes
    ----------
    seal, marker, far : RimPoints or None
    marker_end : RimPoints or None
        The marker's edge away from the seal.
    shares : dict of str to float
        Share of the camera-facing columns that show each rim.
    notes : tuple of Note
    refusal : Note or None
    """

    seal: RimPoints | None = None
    marker: RimPoints | None = None
    marker_end: RimPoints | None = None
    far: RimPoints | None = None
    shares: dict[str, float] = field(default_factory=dict)
    touching: bool = False
    notes: tuple[Note, ...] = ()
    refusal: Note | None = None


def choose(
    classes: np.ndarray,
    frame: ReaderFrame,
    solution: Solution,
    layout: Layout,
    marker_width_mm: float | None,
    view: np.ndarray | None = None,
) -> Choice:
    """Choose the rims.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
    frame : ReaderFrame
        Of the view that `classes` belongs to.
    solution : Solution
        The shaft after the silhouettes were fitted.
    layout : Layout
    marker_width_mm : float or None
        Stated width of the band.
    view : ndarray of uint8, shape (rows, columns, 3), optional
        What `classes` were told from: the shaft's own pattern in it is a second witness of the seal's edge.
    """
    best = most_likely(classes)
    found = borders(classes, frame, best)
    clear = _clear_marker_row(found, frame, classes, marker_width_mm)
    if clear is not None:
        without_lip = lip_taken_back(classes, frame, clear, best)
        if without_lip is not classes:
            classes = without_lip
            best = most_likely(classes)
            found = borders(classes, frame, best)
    S, B, M, F = (Part.SEAL,), (Part.SHAFT,), (Part.MARKER,), (Part.FAR_END,)
    seal = _best(candidates(found, S, B + M, frame))
    ends = candidates(found, B + M, F, frame)
    far = _best(ends)
    gaiter = layout is not Layout.SHOCK and far is not None and _gaiter(classes, far, ends, frame)
    shaft_end = far
    two_ends = far is not None and _ends_earlier(far, ends)
    if gaiter or two_ends:
        far = None
    back_seal = _best(candidates(found, B + M, S, frame))
    back_far = _best(candidates(found, F, B + M, frame))
    forward = _weight(seal) + _weight(far)
    if back_seal and back_far and _weight(back_seal) + _weight(back_far) > BACKWARDS_TIMES * forward:
        note = Note(Reason.CARD_BACKWARDS, None, "the seal lies at the end that the arrow points away from")
        return Choice(refusal=note)
    notes: list[Note] = []
    near, end, rival = _marker(found, frame, classes, marker_width_mm, seal, shaft_end)
    lip = _on_the_seal(near, seal, found, frame)
    if lip:
        near = end = None
    shares = {"seal": _share(seal), "marker": _share(near), "far end": _share(far)}
    if rival:
        notes.append(
            Note(Reason.MARKER_UNCLEAR, "marker_mm", "more than one band round the shaft could be the marker")
        )
        near = end = None
    elif lip:
        notes.append(
            Note(
                Reason.MARKER_UNCLEAR,
                "marker_mm",
                "the only band found sits on the seal itself: the marker not yet moved, or the seal's lip",
            )
        )
    elif near is None:
        found_none = "no edge of a marker was found on the shaft"
        notes.append(Note(Reason.NO_MARKER, "marker_mm", found_none + (PASSES_FOR_LIP if seal else "")))
    if seal is None:
        notes.append(Note(Reason.SEAL_HIDDEN, "exposed_mm", "the seal's edge was not found"))
    if gaiter:
        notes.append(
            Note(
                Reason.FAR_END_HIDDEN,
                "exposed_mm",
                "what ends the bare shaft is no clamp: a gaiter? Set the rims by hand with --rims",
            )
        )
    elif two_ends:
        notes.append(
            Note(
                Reason.FAR_END_HIDDEN,
                "exposed_mm",
                f"the edge of the {layout.far_end} was found in two places",
            )
        )
    elif far is None:
        notes.append(
            Note(Reason.FAR_END_HIDDEN, "exposed_mm", f"the edge of the {layout.far_end} was not found")
        )
    camera_s = solution.cylinder.camera_s_mm()
    touching = bool(near and _touches(best, frame, near, far))
    apart_mm = 0.0
    if seal is not None and view is not None:
        seal, apart_mm = with_pattern(seal, view)
    return Choice(
        seal=seal_points(seal, classes, frame, camera_s, apart_mm),
        marker=marker_points("marker", near, frame, camera_s, near_edge=True),
        marker_end=marker_points("marker end", end, frame, camera_s, near_edge=False),
        far=far_points(far, classes, frame, camera_s, layout),
        shares=shares,
        touching=touching,
        notes=tuple(notes),
    )


def _ends_earlier(far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether other columns show the shaft end well before its far end."""
    return any(
        c.s_mm < far.s_mm - SECOND_END_MM and _weight(c) > SECOND_END_SHARE * _weight(far) for c in ends
    )


def _gaiter(classes: np.ndarray, far: RimCandidate, ends: list[RimCandidate], frame: ReaderFrame) -> bool:
    """Whether what follows the bare shaft is too long for a clamp or a foot, or lets the shaft out once more."""
    if any(far.s_mm + 10.0 < c.s_mm < far.s_mm + CLAMPS_APART_MM and c.share > 0.5 for c in ends):
        return True
    middle = np.abs(frame.u()) < 0.5
    follows = classes[Part.FAR_END][:, middle].mean(axis=1)[int(np.median(far.rows)) + 2 :] > 0.5
    length = len(follows) if follows.all() else int(np.argmin(follows))
    return length * READER_STEP_MM > LONGEST_CLAMP_MM


def _on_the_seal(
    near: RimCandidate | None, seal: RimCandidate | None, found: list[Border], frame: ReaderFrame
) -> bool:
    """Whether the band found sits on the seal, with no bare shaft between."""
    if near is None or seal is None or near.s_mm - seal.s_mm >= LIP_MM:
        return False
    after_shaft = candidates(found, (Part.SHAFT,), (Part.MARKER,), frame)
    return not any(abs(c.s_mm - near.s_mm) < SAME_RIM_MM for c in after_shaft)


def _clear_marker_row(
    found: list[Border], frame: ReaderFrame, classes: np.ndarray, marker_width_mm: float | None
) -> float | None:
    """Row of the seal-side edge of a band that can only be the marker: whole, sure, with bare shaft on both sides."""
    before = candidates(found, (Part.SHAFT,), (Part.MARKER,), frame)
    near, end, _ = _marker(found, frame, classes, marker_width_mm, None, None)
    if near is None or end is None or min(_weight(near), _weight(end)) < CLEAR_MARKER:
        return None
    if not any(abs(c.s_mm - near.s_mm) < SAME_RIM_MM and _weight(c) >= CLEAR_MARKER for c in before):
        return None
    return float(near.rows.min())


def _best(group: list[RimCandidate]) -> RimCandidate | None:
    if not group or group[0].clarity < LEAST_CLARITY:
        return None
    # Few columns must be all the surer: a coil's shadow fills two or three.
    return group[0] if group[0].clarity >= FEW_CLARITY or group[0].share >= FEW_SHARE else None


def _weight(c: RimCandidate | None) -> float:
    return c.share * c.clarity if c else 0.0


def _share(c: RimCandidate | None) -> float:
    return c.share if c else 0.0


def _marker(
    found: list[Border],
    frame: ReaderFrame,
    classes: np.ndarray,
    width_mm: float | None,
    seal: RimCandidate | None,
    far: RimCandidate | None,
) -> tuple[RimCandidate | None, RimCandidate | None, bool]:
    """The marker's two edges, and whether another band rivals it."""
    starts = candidates(found, (Part.SHAFT, Part.SEAL), (Part.MARKER,), frame)
    ends = candidates(found, (Part.MARKER,), (Part.SHAFT, Part.FAR_END), frame)
    low = seal.s_mm - 1.5 if seal else -np.inf
    high = far.s_mm + 1.5 if far else np.inf
    scored: list[tuple[float, RimCandidate, RimCandidate | None]] = []
    for start in starts:
        if start.clarity < LEAST_CLARITY or not low <= start.s_mm <= high:
            continue
        limits = BAND_MM if width_mm is None else (width_mm - 1.2, width_mm + 1.2)
        pairs = [e for e in ends if limits[0] <= e.s_mm - start.s_mm <= limits[1]]
        end = max(pairs, key=_weight, default=None)
        # A sliver before a coil may be the coil's own shadow: without its other edge a band must be clear.
        if end is None and start.clarity < FEW_CLARITY:
            continue
        scored.append((_weight(start) + _weight(end), start, end))
    scored.sort(key=lambda x: -x[0])
    if seal is not None and any(x[1].s_mm > seal.s_mm + LIP_MM for x in scored):
        scored = [x for x in scored if x[1].s_mm > seal.s_mm + LIP_MM]
    if not scored:
        return None, None, False
    best = scored[0]
    # The network knows of one marker a shaft, so of two alike it shows one faintly: faint bands with bare shaft
    # before them, clear of the seal's lip, count as rivals.
    clear_of_lip = low + LIP_MM + 1.5
    others = [
        c for c in candidates(found, (Part.SHAFT,), (Part.MARKER,), frame) if clear_of_lip < c.s_mm <= high
    ]
    rival = any(
        _weight(c) > RIVAL_SHARE * _weight(best[1]) and abs(c.s_mm - best[1].s_mm) > BAND_MM[1]
        for c in others
    )
    return best[1], best[2], rival


def _touches(best: np.ndarray, frame: ReaderFrame, near: RimCandidate, far: RimCandidate | None) -> bool:
    """Whether marker and far end follow each other without bare shaft between."""
    columns = np.unique(np.searchsorted(frame.u(), near.u))
    hits = 0
    for column, row in zip(
        columns, np.interp(frame.u()[columns], np.sort(near.u), near.rows[np.argsort(near.u)]), strict=True
    ):
        below = best[int(row) + 2 : int(row) + 2 + int(9 / READER_STEP_MM), min(column, best.shape[1] - 1)]
        other = below[(below != Part.MARKER) & (below != Part.LOCK)]
        hits += len(other) > 0 and other[0] == Part.FAR_END
    return hits > 0.5 * len(columns)

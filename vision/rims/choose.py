"""Choice of seal, marker and far end among the rims of the reader view, and their refinement."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.names import LengthName, RimName
from vision.networks.classes import Part, PartMap
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.candidates import Borders, RimCandidate, find_borders, without_false_marker_on_lip
from vision.rims.choose_marker import (
    FEW_CLARITY,
    FEW_SHARE,
    MarkerEdges,
    band_limits_mm,
    choose_marker,
    clear_marker_row,
    touches,
    weight,
)
from vision.rims.evidence import NOTHING_STATED, Evidence
from vision.rims.points import (
    VAGUE_SEGMENTATION_MM,
    far_points,
    marker_points,
    refined_rim_points,
    refinement_candidate,
    seal_points,
)
from vision.rims.refine import RimRefiner
from vision.rims.second_opinion import SecondOpinion, SeenEnd

# Least clarity of seal and far end. Of those of 2,112 scenes kept out of training whose clarity times share is less,
# one in 13 is wrong, of the others one in a hundred.
END_CLARITY = 0.7
# Longest lower clamp or axle foot along the leg, mm (trade figures: 25 to 60), and the greatest distance at which a
# further clamp would show; what comes between is a gaiter.
LONGEST_CLAMP_MM, CLAMPS_APART_MM = 90.0, 120.0
# Least distance of such a further end, mm, least share of the columns that show it, and half-width, radii, of the
# columns in which the clamp's length is measured.
NEXT_END_MM, NEXT_END_SHARE, CLAMP_MIDDLE_U = 10.0, 0.5, 0.5
# The card is laid backwards if both ends say so, by this factor in weight.
BACKWARDS_RATIO = 2.0
# A seal at the end that the arrow points away from, and no far end: of the five photos with a card laid backwards four
# show that, and some of them another seal at the arrow's end, where the side speaks for one; of 145 others none.
SEAL_AT_FAR_END = "the seal lies at the end that the arrow points away from"
TWO_SEALS = "either end of the bare shaft looks like the seal"
# The far end is ambiguous where columns of this share of its weight end earlier by so many mm: of 110 photos one showed
# the shaft once more in a polished clamp.
SECOND_END_SHARE, SECOND_END_MM = 0.2, 3.0
# A far end is square to the axis. An edge that is tilted across the view by more than this, rad, and by more than this,
# mm, per radius is that of something before it, such as a fender: of 110 far ends of photographs the largest tilts are
# 0.037 rad, of rods of 5 to 7 mm radius 0.11 rad but 0.5 mm; a fender's edge has 0.078 rad and 1.3 mm. Clamps and feet
# are machined square to a degree.
TILT_LIMIT, TILT_LIMIT_MM = 0.06, 1.0
_SEAL, _BARE, _MARKER, _FAR = (Part.SEAL,), (Part.SHAFT,), (Part.MARKER,), (Part.FAR_END,)


@dataclass(frozen=True)
class Choice:
    """The rims chosen, or the reason why not.

    Attributes
    ----------
    rims : dict of RimName to RimPoints
        In the order of `RimName`.
    unrefined : dict of RimName to RimPoints
        The same rims from the part segmentation alone.
    shares : dict of RimName to float
        Share of the camera-facing columns that show each rim.
    touching : bool
        Marker and far end follow each other without bare shaft between.
    near_hidden : bool
        The marker's seal-side edge is hidden and derived from its other edge and its width.
    notes : tuple of Note
    remarks : tuple of str
        What the user should know of lengths that are reported.
    refusal : Note or None
    vague : bool
        The segmentation sees where the shaft ends only within a wide transition.
    """

    rims: dict[RimName, RimPoints] = field(default_factory=dict)
    unrefined: dict[RimName, RimPoints] = field(default_factory=dict)
    shares: dict[RimName, float] = field(default_factory=dict)
    touching: bool = False
    near_hidden: bool = False
    notes: tuple[Note, ...] = ()
    remarks: tuple[str, ...] = ()
    refusal: Note | None = None
    vague: bool = False

    @property
    def open(self) -> bool:
        """Whether something is missing."""
        return self.refusal is not None or bool(self.notes)


@dataclass(frozen=True)
class _FarEnd:
    """The far end found: `ends_shaft` is the border at which the shaft ends, `rim` the same where it is the far end."""

    rim: RimCandidate | None
    ends_shaft: RimCandidate | None
    note: Note | None


def choose(
    parts: PartMap,
    layout: Layout,
    marker_width_mm: float | None,
    refiner: RimRefiner | None = None,
    second: SecondOpinion | None = None,
    evidence: Evidence = NOTHING_STATED,
) -> Choice:
    """Choose the rims.

    Parameters
    ----------
    parts : PartMap
        Of a view along the shaft as fitted to its silhouettes.
    layout : Layout
    marker_width_mm : float or None
        Declared width of the band.
    refiner : RimRefiner, optional
        For the refinement of the rims chosen.
    second : SecondOpinion, optional
        For where another network sees the far end.
    evidence : Evidence, optional
        What is stated besides.
    """
    found = _borders(parts, marker_width_mm)
    parts, frame = found.parts, found.parts.frame
    seal = _clearest(found.rims(_SEAL, _BARE + _MARKER))
    far = _far_end(found, layout, seal, evidence)
    if _backwards(found, weight(seal) + weight(far.rim)):
        note = Note(Reason.CARD_BACKWARDS, None, SEAL_AT_FAR_END)
        return Choice(refusal=note)
    if second is not None and far.rim is not None and second.sees_a_seal(far.rim):
        return Choice(refusal=Note(Reason.CARD_BACKWARDS, None, SEAL_AT_FAR_END))
    if far.rim is None and _clearest(found.rims(_BARE + _MARKER, _SEAL)) is not None:
        return Choice(refusal=Note(Reason.CARD_BACKWARDS, None, TWO_SEALS if seal else SEAL_AT_FAR_END))
    marker = choose_marker(found, marker_width_mm, seal, far.ends_shaft, evidence)
    seal_note = Note(Reason.SEAL_HIDDEN, LengthName.EXPOSED, "the seal's edge was not found")
    candidates = {
        RimName.SEAL: seal,
        RimName.MARKER_NEAR: None if marker.hidden else marker.near,
        RimName.MARKER_FAR: marker.end,
        RimName.FAR_END: far.rim,
    }
    points = {
        RimName.SEAL: seal_points(seal, parts),
        RimName.MARKER_NEAR: marker_points(RimName.MARKER_NEAR, marker.near, frame, marker.hidden),
        RimName.MARKER_FAR: marker_points(RimName.MARKER_FAR, marker.end, frame),
        RimName.FAR_END: far_points(far.rim, parts, layout),
    }
    unrefined = {name: rim for name, rim in points.items() if rim is not None}
    touching = bool(marker.near and touches(parts, marker.near))
    rims = unrefined
    if refiner is not None:
        # Refinement is trained on bare shaft beside a rim: between a marker and a far end that it touches is none.
        fixed = (RimName.MARKER_FAR, RimName.FAR_END) if touching else ()
        bare = {name: c for name, c in candidates.items() if name not in fixed}
        rims = {**unrefined, **_refined(unrefined, bare, refiner, second, frame, marker_width_mm)}
    return Choice(
        rims=rims,
        unrefined=unrefined,
        shares=_shares(seal, marker, far.rim),
        touching=touching,
        near_hidden=marker.hidden is not None,
        notes=_weightiest_first(None if seal else seal_note, marker.note, far, layout),
        remarks=(marker.hidden.remark,) if marker.hidden else (),
        vague=any(end and end.transition_width_mm > VAGUE_SEGMENTATION_MM for end in (seal, far.rim)),
    )


def _weightiest_first(
    seal: Note | None, marker: Note | None, far: _FarEnd, layout: Layout
) -> tuple[Note, ...]:
    """Put the cause that matters first: whether a marker that is not seen is at the stop only the far end shows."""
    note = far.note
    if note is None:
        return tuple(one for one in (marker, seal) if one is not None)
    if seal is not None and far.ends_shaft is None:
        neither = f"neither end of the bare shaft was found, the seal's or the {layout.far_end}'s"
        note = replace(note, detail=neither)
    return tuple(one for one in (note, seal, marker) if one is not None)


def _borders(parts: PartMap, marker_width_mm: float | None) -> Borders:
    """Find all borders; a false marker on the seal's lip is removed where the true one is clear."""
    found = find_borders(parts)
    clear = clear_marker_row(found, marker_width_mm)
    if clear is None:
        return found
    without_lip = without_false_marker_on_lip(parts, clear)
    return found if without_lip is parts else find_borders(without_lip)


def _far_end(found: Borders, layout: Layout, seal: RimCandidate | None, evidence: Evidence) -> _FarEnd:
    """Find the far end, or the note that says why there is none."""
    ends = found.rims(_BARE + _MARKER, _FAR)
    far = _clearest(ends)
    if far is None:
        why = f"the edge of the {layout.far_end} was not found"
    elif layout is not Layout.SHOCK and _gaiter(found.parts, far, ends):
        why = "the part that ends the bare shaft is no clamp. If it is a gaiter, set the rims by hand with --rims"
    elif _tilted(far, found.parts.frame):
        why = "the edge that ends the bare shaft is not square to it: something stands before the end"
    elif _ends_earlier(far, [c for c in ends if evidence.may_be_far_end(c, seal)]):
        why = f"the edge of the {layout.far_end} was found in two places"
    else:
        return _FarEnd(far, far, None)
    return _FarEnd(None, far, Note(Reason.FAR_END_HIDDEN, LengthName.EXPOSED, why))


def _backwards(found: Borders, forward: float) -> bool:
    """Whether the rims fit a card whose arrow points away from the seal, better than by `forward`, their weight."""
    seal = _clearest(found.rims(_BARE + _MARKER, _SEAL))
    far = _clearest(found.rims(_FAR, _BARE + _MARKER))
    return bool(seal and far) and weight(seal) + weight(far) > BACKWARDS_RATIO * forward


def _refined(
    unrefined: dict[RimName, RimPoints],
    candidates: dict[RimName, RimCandidate | None],
    refiner: RimRefiner,
    second: SecondOpinion | None,
    frame: ReaderFrame,
    marker_width_mm: float | None,
) -> dict[RimName, RimPoints]:
    """Refine rims; of a marker's edges both or none where the refined ones make no band."""
    targets = {
        name: target
        for name, c in candidates.items()
        if (target := refinement_candidate(unrefined.get(name), c, frame))
    }
    refined = {
        name: rim
        for name, rim in zip(targets, refiner.refine(list(targets.values())), strict=True)
        if rim is not None
    }
    if {RimName.MARKER_NEAR, RimName.MARKER_FAR} <= set(refined):
        low, high = band_limits_mm(marker_width_mm)
        if not low <= refined[RimName.MARKER_FAR].s_mm - refined[RimName.MARKER_NEAR].s_mm <= high:
            del refined[RimName.MARKER_NEAR], refined[RimName.MARKER_FAR]
    others: dict[RimName, SeenEnd | None] = dict.fromkeys(refined)
    if second is not None and RimName.FAR_END in refined:
        others[RimName.FAR_END] = second.far_end(targets[RimName.FAR_END].rim)
    return {
        name: refined_rim_points(unrefined[name], targets[name], rim, frame, others[name])
        for name, rim in refined.items()
    }


def _tilted(rim: RimCandidate, frame: ReaderFrame) -> bool:
    """Whether an edge, unrolled on the shaft, runs aslant across it."""
    s_mm, _ = frame.cylinder.unroll(frame.points_cam(rim.rows, rim.u))
    per_radius_mm = abs(float(np.polyfit(rim.u, s_mm, 1)[0]))
    return per_radius_mm > max(TILT_LIMIT_MM, TILT_LIMIT * frame.cylinder.radius_mm)


def _ends_earlier(far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether other columns show the shaft end well before its far end."""
    return any(c.s_mm < far.s_mm - SECOND_END_MM and c.weight > SECOND_END_SHARE * far.weight for c in ends)


def _gaiter(parts: PartMap, far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether the part after the bare shaft is too long for a clamp or a foot, or is followed by bare shaft again."""
    beyond = (far.s_mm + NEXT_END_MM, far.s_mm + CLAMPS_APART_MM)
    if any(beyond[0] < c.s_mm < beyond[1] and c.share > NEXT_END_SHARE for c in ends):
        return True
    middle = np.abs(parts.frame.u()) < CLAMP_MIDDLE_U
    seen = parts.probabilities[Part.FAR_END][:, middle].mean(axis=1)
    follows = seen[int(np.median(far.rows)) + 2 :] > 0.5
    length = len(follows) if follows.all() else int(np.argmin(follows))
    return length * READER_STEP_MM > LONGEST_CLAMP_MM


def _clearest(group: list[RimCandidate]) -> RimCandidate | None:
    """Best supported rim of a group, if it is clear enough."""
    if not group or group[0].clarity < END_CLARITY:
        return None
    # Few columns must be all the clearer: a coil's shadow fills two or three.
    return group[0] if group[0].clarity >= FEW_CLARITY or group[0].share >= FEW_SHARE else None


def _shares(seal: RimCandidate | None, marker: MarkerEdges, far: RimCandidate | None) -> dict[RimName, float]:
    """Share of the columns that show each rim, 0 where it was not found."""
    rims = {RimName.SEAL: seal, RimName.MARKER_NEAR: marker.near, RimName.FAR_END: far}
    return {name: c.share if c else 0.0 for name, c in rims.items()}

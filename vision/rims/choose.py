"""Choice of seal, marker and far end among the rims of the reader view, and their refinement."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from vision.adjustment.observations import RimPoints
from vision.geometry.views import ReaderFrame
from vision.names import LengthName, RimName
from vision.networks.classes import Part, PartMap
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.candidates import Borders, RimCandidate, find_borders, without_false_marker_on_lip
from vision.rims.choose_marker import (
    MarkerEdges,
    band_limits_mm,
    choose_marker,
    clear_marker_row,
    touches,
    weight,
)
from vision.rims.evidence import NOTHING_STATED, Evidence
from vision.rims.far_end import FarEnd, clearest, find_far_end
from vision.rims.points import (
    VAGUE_SEGMENTATION_MM,
    far_points,
    marker_points,
    refined_rim_points,
    refinement_candidate,
    seal_points,
)
from vision.rims.refine import RimRefiner, RimTarget
from vision.rims.second_opinion import SecondOpinion, SeenEnd

# The card is laid backwards if both ends say so, by this factor in weight.
BACKWARDS_RATIO = 2.0
# A seal at the end that the arrow points away from, and no far end: of the five photos with a card laid backwards four
# show that, and some of them another seal at the arrow's end, where the side speaks for one; of 145 others none.
SEAL_AT_FAR_END = "the seal lies at the end that the arrow points away from"
TWO_SEALS = "either end of the bare shaft looks like the seal"
EITHER_END = "The exposed length is the same whichever end is the seal; the others are not."
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
    against_arrow : str or None
        What speaks against the card's arrow: the looks of both ends then decide.
    laid_right : float or None
        Probability that the arrow points to the seal, where the ends were looked at.
    targets : dict of RimName to RimTarget
        The rims that may be refined.
    marker_row : float or None
        Row of a band that can only be the marker.
    aslant : bool
        What ends the shaft is not square to it: something stands before its far end.
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
    against_arrow: str | None = None
    laid_right: float | None = None
    targets: dict[RimName, RimTarget] = field(default_factory=dict, repr=False)
    marker_row: float | None = None
    aslant: bool = False

    @property
    def open(self) -> bool:
        """Whether something is missing, or may be the other way round."""
        return self.refusal is not None or bool(self.notes) or self.against_arrow is not None


def choose(
    parts: PartMap,
    layout: Layout,
    marker_width_mm: float | None,
    second: SecondOpinion | None = None,
    evidence: Evidence = NOTHING_STATED,
) -> Choice:
    """Choose the rims, as the part segmentation sees them; `refined` moves them.

    Parameters
    ----------
    parts : PartMap
        Of a view along the shaft as fitted to its silhouettes.
    layout : Layout
    marker_width_mm : float or None
        Declared width of the band.
    second : SecondOpinion, optional
        For what another network sees against the card's arrow.
    evidence : Evidence, optional
        What is stated besides.
    """
    found, marker_row = _borders(parts, marker_width_mm)
    parts, frame = found.parts, found.parts.frame
    seal = clearest(found.rims(_SEAL, _BARE + _MARKER))
    far = find_far_end(found, layout, seal, evidence)
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
    # Refinement is trained on bare shaft beside a rim: between a marker and a far end that it touches is none.
    fixed = (RimName.MARKER_FAR, RimName.FAR_END) if touching else ()
    targets = {
        name: target
        for name, c in candidates.items()
        if name not in fixed and (target := refinement_candidate(unrefined.get(name), c, frame))
    }
    return Choice(
        rims=unrefined,
        unrefined=unrefined,
        shares=_shares(seal, marker, far.rim),
        touching=touching,
        near_hidden=marker.hidden is not None,
        notes=_weightiest_first(None if seal else seal_note, marker.note, far, layout),
        remarks=(marker.hidden.remark,) if marker.hidden else (),
        vague=any(end and end.transition_width_mm > VAGUE_SEGMENTATION_MM for end in (seal, far.rim)),
        against_arrow=_against_arrow(found, seal, far.rim, second),
        targets=targets,
        marker_row=marker_row,
        aslant=far.aslant,
    )


def ends_only(choice: Choice, against_arrow: Note) -> Choice:
    """Keep what is the same whichever end is the seal: the exposed length, if both ends were found.

    Only of a shaft with a marker: of a bar between two fittings, too, neither end is clearly the seal.

    Parameters
    ----------
    choice : Choice
    against_arrow : Note
        Why it is not known which end is the seal.
    """
    ends = (RimName.SEAL, RimName.FAR_END)
    if not {*ends, RimName.MARKER_NEAR} <= set(choice.rims):
        return Choice(refusal=against_arrow)
    rims = {name: choice.rims[name] for name in ends}
    targets = {name: choice.targets[name] for name in ends if name in choice.targets}
    notes = tuple(replace(against_arrow, quantity=q) for q in (LengthName.MARKER, LengthName.REMAINING))
    return Choice(rims, rims, choice.shares, notes=notes, remarks=(EITHER_END,), targets=targets)


def refined(
    choice: Choice,
    refiner: RimRefiner,
    second: SecondOpinion | None,
    frame: ReaderFrame,
    marker_width_mm: float | None,
) -> Choice:
    """Refine the rims chosen; of a marker's edges both or none where the refined ones make no band.

    Parameters
    ----------
    choice : Choice
    refiner : RimRefiner
    second : SecondOpinion, optional
        For where another network sees the far end.
    frame : ReaderFrame
        Of the view in which they were chosen.
    marker_width_mm : float or None
        As in `choose`.
    """
    targets = choice.targets
    found = {
        name: rim
        for name, rim in zip(targets, refiner.refine(list(targets.values())), strict=True)
        if rim is not None
    }
    if {RimName.MARKER_NEAR, RimName.MARKER_FAR} <= set(found):
        low, high = band_limits_mm(marker_width_mm)
        if not low <= found[RimName.MARKER_FAR].s_mm - found[RimName.MARKER_NEAR].s_mm <= high:
            del found[RimName.MARKER_NEAR], found[RimName.MARKER_FAR]
    others: dict[RimName, SeenEnd | None] = dict.fromkeys(found)
    if second is not None and RimName.FAR_END in found:
        others[RimName.FAR_END] = second.far_end(targets[RimName.FAR_END].rim)
    moved = {
        name: refined_rim_points(choice.unrefined[name], targets[name], rim, frame, others[name])
        for name, rim in found.items()
    }
    return replace(choice, rims={**choice.unrefined, **moved})


def _weightiest_first(
    seal: Note | None, marker: Note | None, far: FarEnd, layout: Layout
) -> tuple[Note, ...]:
    """Put the cause that matters first: whether a marker that is not seen is at the stop only the far end shows."""
    note = far.note
    if note is None:
        return tuple(one for one in (marker, seal) if one is not None)
    if seal is not None and far.ends_shaft is None:
        neither = f"neither end of the bare shaft was found, the seal's or the {layout.far_end}'s"
        note = replace(note, detail=neither)
    return tuple(one for one in (note, seal, marker) if one is not None)


def _borders(parts: PartMap, marker_width_mm: float | None) -> tuple[Borders, float | None]:
    """Find all borders, and where the marker is clear; a false marker on the seal's lip is then removed."""
    found = find_borders(parts)
    clear = clear_marker_row(found, marker_width_mm)
    if clear is None:
        return found, None
    without_lip = without_false_marker_on_lip(parts, clear)
    return (found if without_lip is parts else find_borders(without_lip)), clear


def _against_arrow(
    found: Borders, seal: RimCandidate | None, far: RimCandidate | None, second: SecondOpinion | None
) -> str | None:
    """Say what of the rims fits a card whose arrow points away from the seal."""
    seal_there, far_there = (
        clearest(found.rims(before, after))
        for before, after in ((_BARE + _MARKER, _SEAL), (_FAR, _BARE + _MARKER))
    )
    if seal_there and far_there:
        both = weight(seal_there) + weight(far_there)
        if both > BACKWARDS_RATIO * (weight(seal) + weight(far)):
            return SEAL_AT_FAR_END
    if seal_there and far is None:
        return TWO_SEALS if seal else SEAL_AT_FAR_END
    if second is None:
        return None
    if far and second.sees_a_seal(far):
        return SEAL_AT_FAR_END
    return SEAL_AT_FAR_END if seal and second.sees_a_far_end(seal) else None


def _shares(seal: RimCandidate | None, marker: MarkerEdges, far: RimCandidate | None) -> dict[RimName, float]:
    """Share of the columns that show each rim, 0 where it was not found."""
    rims = {RimName.SEAL: seal, RimName.MARKER_NEAR: marker.near, RimName.FAR_END: far}
    return {name: c.share if c else 0.0 for name, c in rims.items()}

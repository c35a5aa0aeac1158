"""Choice of the rims by the first network, and by both together where that one leaves something open."""

from __future__ import annotations

from dataclasses import replace

from vision.geometry.views import READER_STEP_MM
from vision.names import RimName
from vision.networks.classes import PartMap
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.bow import SAME_RIM_MM
from vision.rims.candidates import find_borders
from vision.rims.choose import TWO_SEALS, Choice, choose, ends_only, refined
from vision.rims.choose_marker import clear_marker_row
from vision.rims.evidence import NOTHING_STATED, Evidence
from vision.rims.faint_band import find_faint_band
from vision.rims.orientation import LAID_RIGHT
from vision.rims.refine import RimRefiner
from vision.rims.second_opinion import SecondOpinion
from vision.rims.standing import ON_ITS_HEAD

# A bar between two fittings looks like a shaft but for its seal; without a marker nothing else shows that it is one.
NO_SEAL_EITHER = "no marker was seen, and neither end of what lies beside the card looks like a seal"


def choose_by_both(
    first: PartMap,
    layout: Layout,
    marker_width_mm: float | None,
    refiner: RimRefiner | None,
    second: SecondOpinion,
    evidence: Evidence = NOTHING_STATED,
) -> Choice:
    """Choose the rims by the first network, and by both together where that one leaves a rim open or vague.

    Where neither shows a marker that is one, a band that they see faintly is looked for in the photo itself.

    Behind coils, and where the side misleads one of them, either network alone leaves rims open that both together
    show; where one is vague the other often is not.

    Parameters
    ----------
    first, layout, marker_width_mm, refiner, second, evidence
        As in `choose`.
    """
    choice = _by_both(first, layout, marker_width_mm, refiner, second, evidence)
    if not any(note.reason is Reason.NO_MARKER for note in choice.notes):
        return choice
    # A band that is seen faintly, between ends of which it is open which one is the seal, would be two guesses.
    if evidence.outline is not None and not second.speaks_against_arrow():
        band = find_faint_band(evidence.outline.pixels, (first, PartMap(second.alone, second.frame)))
        if band is not None:
            with_band = replace(evidence, faint_band=band)
            again = _by_both(first, layout, marker_width_mm, refiner, second, with_band)
            if RimName.MARKER_NEAR in again.rims:
                return again
    if {RimName.SEAL, RimName.FAR_END} <= set(choice.rims) and not second.sees_any_seal():
        return Choice(refusal=Note(Reason.NO_MARKER, None, NO_SEAL_EITHER), laid_right=choice.laid_right)
    return choice


def _by_both(
    first: PartMap,
    layout: Layout,
    marker_width_mm: float | None,
    refiner: RimRefiner | None,
    second: SecondOpinion,
    evidence: Evidence,
) -> Choice:
    """As `choose_by_both`, with a band drawn in where `evidence` has one."""

    def finished(choice: Choice) -> Choice:
        return choice if refiner is None else refined(choice, refiner, second, first.frame, marker_width_mm)

    # Only what is believed in the end is refined.
    stands_right = evidence.standing >= 1 or evidence.laid_right is not None
    # Where it does not, the looks of both ends are weighed in any case.
    alone = choose(
        evidence.with_band(first), layout, marker_width_mm, second if stands_right else None, evidence
    )
    settled = not alone.open and not alone.vague
    if settled and stands_right:
        return finished(alone)
    laid_right = evidence.laid_right
    if laid_right is None:
        laid_right = second.laid_right(first.probabilities, evidence.standing)
    stands = TWO_SEALS if stands_right else ON_ITS_HEAD[layout]
    against = Note(Reason.CARD_BACKWARDS, None, alone.against_arrow or stands)
    if laid_right <= 1 - LAID_RIGHT:
        return Choice(refusal=against, laid_right=laid_right)
    if settled and laid_right >= LAID_RIGHT:
        return replace(finished(alone), laid_right=laid_right)
    both = evidence.with_band(second.combined_with(first, _marker_row(alone, second, marker_width_mm)))
    # What speaks against the arrow has been weighed: the other network is not asked again.
    together = replace(choose(both, layout, marker_width_mm, evidence=evidence), against_arrow=None)
    if laid_right < LAID_RIGHT:
        # More than chance: the looks of the ends speak against the arrow.
        return replace(finished(ends_only(together, against)), laid_right=laid_right)
    best = together if alone.open or not together.open else alone
    return replace(finished(best), laid_right=laid_right)


def _marker_row(alone: Choice, second: SecondOpinion, marker_width_mm: float | None) -> float | None:
    """Row of a band that either network for itself sees where it can only be the marker."""
    one = alone.marker_row
    if one is None:
        return None
    other = clear_marker_row(find_borders(PartMap(second.alone, second.frame)), marker_width_mm)
    if other is None or abs(one - other) > SAME_RIM_MM / READER_STEP_MM:
        return None
    return min(one, other)

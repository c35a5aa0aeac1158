"""Choice of the rims by the first network, and by both together where that one leaves something open."""

from __future__ import annotations

from vision.networks.classes import PartMap
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.choose import TWO_SEALS, Choice, choose
from vision.rims.evidence import NOTHING_STATED, Evidence
from vision.rims.orientation import LAID_RIGHT, SURE
from vision.rims.refine import RimRefiner
from vision.rims.second_opinion import SecondOpinion


def choose_by_both(
    first: PartMap,
    layout: Layout,
    marker_width_mm: float | None,
    refiner: RimRefiner | None,
    second: SecondOpinion,
    evidence: Evidence = NOTHING_STATED,
) -> Choice:
    """Choose the rims by the first network, and by both together where that one leaves a rim open or vague.

    Behind coils, and where the side misleads one of them, either network alone leaves rims open that both together
    show; where one is vague the other often is not.

    Parameters
    ----------
    first, layout, marker_width_mm, refiner, second, evidence
        As in `choose`.
    """
    alone = choose(first, layout, marker_width_mm, refiner, second, evidence)
    if not alone.open and not alone.vague:
        return alone
    laid_right = second.laid_right(first.probabilities, layout)
    if laid_right < LAID_RIGHT:
        # More than chance: the looks of the ends speak against the arrow.
        return Choice(refusal=Note(Reason.CARD_BACKWARDS, None, TWO_SEALS))
    both = second.combined_with(first, laid_right > SURE)
    together = choose(both, layout, marker_width_mm, refiner, second, evidence)
    return together if alone.open or not together.open else alone

"""Counts that nobody recorded: taken over from the advice before the ride, or from the ride before, and said so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from strandline.facts.ends import PRELOAD, EndFacts
from strandline.facts.rides import EndRide
from suspension.advice.step import Action, Step
from suspension.springs.adjuster import Confidence, Count, CountedFrom

CHANGES = (Action.MORE, Action.LESS, Action.START)


def with_counts(
    rides: Sequence[EndRide],
    facts: EndFacts,
    step_before: Callable[[tuple[EndRide, ...], EndRide], Step | None],
) -> tuple[EndRide, ...]:
    """Fill in the counts that were not recorded with a ride.

    Parameters
    ----------
    rides : sequence of EndRide
        Oldest first.
    facts : EndFacts
    step_before : callable
        From the rides before one (filled in), and that one, to what the advice for its load was.

    Returns
    -------
    tuple of EndRide
        Each with `taken_over`, a sentence, where its count was not recorded. A count that is in doubt, or that
        differs between the sides, stays as it is.
    """
    filled: list[EndRide] = []
    for one in rides:
        filled.append(_filled(one, tuple(filled), facts, step_before))
    return tuple(filled)


def _filled(
    one: EndRide,
    before: tuple[EndRide, ...],
    facts: EndFacts,
    step_before: Callable[[tuple[EndRide, ...], EndRide], Step | None],
) -> EndRide:
    was_recorded = any(
        setting.leg.end is facts.end and setting.adjuster == PRELOAD for setting in one.ride.settings
    )
    if one.count.value is not None or was_recorded or facts.adjuster is None:
        return one
    last = next((earlier for earlier in reversed(before) if earlier.up is not None), None)
    if last is None:
        return one
    kind = facts.adjuster.kind
    step = step_before(before, one)
    # Where the count was uncertain the advice was to count again, whatever else it said.
    advised = step is not None and (step.action in CHANGES or not last.count.is_sure)
    if step is not None and step.count is not None and advised:
        count, source, doubtful = step.count, "as advised before it", False
    else:
        assert last.up is not None
        count, source, doubtful = last.up, f"as on ride {last.ride.number}", not last.count.is_sure
    words = (
        f"Ride {one.ride.number} has no preload count: {kind.at(count)} taken over, {source}. If it was another, "
        f"strandline ride amend."
    )
    confidence = Confidence.IN_DOUBT if doubtful else Confidence.COUNTED
    return replace(one, count=Count(count, CountedFrom.SOFT, confidence), up=count, taken_over=words)

"""The damping step that may help a ride that felt harsh with stroke in reserve, from the bike's file and the counts."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.bikes.bike import Adjuster, BikeLeg
from ridelog.names import AdjusterKind, Confidence, CountedFrom
from strandline.facts.ends import EndFacts
from strandline.facts.events import placard_kpa, tyre_fault
from strandline.facts.rides import BikeLog, EndRide

COMPRESSION = "compression"
"""Name of the adjuster in the bike's file."""


def softer_compression(log: BikeLog, facts: EndFacts, rides: Sequence[EndRide]) -> str | None:
    """Name one click less of compression damping.

    Parameters
    ----------
    log : BikeLog
    facts : EndFacts
    rides : sequence of EndRide
        Of all loads at this end, comparable with today; oldest first.

    Returns
    -------
    str or None
        Such as "compression damping: one click softer, from 8 to 9 out". None where the last ride's tyre pressure was
        not found right by the placard, the file has no such adjuster in clicks, its count is not known or differs
        between the sides, or it is at its soft end.
    """
    if not rides or not _tyres_are_right(log, facts, rides[-1]):
        return None
    places = []
    for leg in facts.legs:
        adjuster = next((one for one in leg.adjusters if one.name == COMPRESSION), None)
        if adjuster is not None:
            places.append(_softer(adjuster, _count(leg, rides)))
    if not places or places[0] is None or any(one != places[0] for one in places):
        return None
    both = ", both sides alike" if len(places) > 1 else ""
    return f"compression damping: one click softer{both}, {places[0]}"


def _tyres_are_right(log: BikeLog, facts: EndFacts, one: EndRide) -> bool:
    entry, case = one.ride.entry, log.load_of(one.ride).case or one.ride.load_case
    known = entry.pressure_kpa(facts.end) is not None and bool(placard_kpa(log.bike.end(facts.end), case))
    return known and tyre_fault(log.bike, facts.end, entry, case) is None


def _count(leg: BikeLeg, rides: Sequence[EndRide]) -> tuple[float, CountedFrom] | None:
    """Count that was recorded last; None where there is none, or it is not sure."""
    for one in reversed(rides):
        for setting in one.ride.settings:
            if setting.leg is leg.name and setting.adjuster == COMPRESSION:
                sure = setting.count is not None and setting.confidence is Confidence.COUNTED
                return (setting.count, setting.counted_from) if sure and setting.count is not None else None
    return None


def _softer(adjuster: Adjuster, counted: tuple[float, CountedFrom] | None) -> str | None:
    """Say from which count to which; None at the soft end, or where that is not known to be further."""
    if adjuster.kind is not AdjusterKind.CLICKS or counted is None:
        return None
    count, counted_from = counted
    low, high = adjuster.range
    if counted_from is CountedFrom.SOFT:
        return f"from {count:g} to {count - 1:g} up from the soft end" if count - 1 >= low else None
    return f"from {count:g} to {count + 1:g} out" if high is not None and count + 1 <= high else None

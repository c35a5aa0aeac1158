"""The damping steps that may help against what was felt, from the bike's file and the counts that were recorded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import IntEnum

from ridelog.bikes.bike import Adjuster, BikeLeg
from ridelog.names import AdjusterKind, Confidence, CountedFrom, End, Felt
from strandline.facts.ends import EndFacts
from strandline.facts.events import placard_kpa, tyre_fault
from strandline.facts.rides import BikeLog, EndRide
from suspension.advice.situation import DampingStep

COMPRESSION, REBOUND = "compression", "rebound"
"""Names of the adjusters in the bike's file."""

# One change of a damping screw that is counted in turns [common practice, no source].
TURN_SHARE = 0.25


class Way(IntEnum):
    """Towards less or more damping."""

    SOFTER = -1
    FIRMER = 1


# What is changed against what was felt; the second where the file has no such adjuster as the first, or that is at its
# end [common practice, no source]: compression for hits and dive, rebound for what follows them.
AGAINST: dict[Felt, tuple[tuple[str, Way], ...]] = {
    Felt.HARSH: ((COMPRESSION, Way.SOFTER), (REBOUND, Way.SOFTER)),
    Felt.WALLOWS: ((REBOUND, Way.FIRMER), (COMPRESSION, Way.FIRMER)),
    Felt.DIVES: ((COMPRESSION, Way.FIRMER),),
}


def damping_steps(log: BikeLog, facts: EndFacts, rides: Sequence[EndRide]) -> tuple[DampingStep, ...]:
    """Name a click, or a quarter of a turn, against each thing that was felt on the last ride.

    Parameters
    ----------
    log : BikeLog
    facts : EndFacts
    rides : sequence of EndRide
        Of all loads at this end, comparable with today; oldest first.

    Returns
    -------
    tuple of DampingStep
        Such as "compression damping: one click softer, from 8 to 9 out". Nothing where the last ride's tyre pressure
        was not found right by the placard, the file has no such adjuster, its count is not known or differs between
        the sides, or it is at its end.
    """
    if not rides or not _tyres_are_right(log, facts, rides[-1]):
        return ()
    found = []
    for felt in _felt(facts, rides):
        for name, way in AGAINST[felt]:
            words = _step(facts, rides, name, way)
            if words is not None:
                found.append(DampingStep(felt, words))
            if words is not None or not (_is_missing(facts, name) or _is_at_its_end(facts, rides, name, way)):
                break
    return tuple(found)


def damping_lacks(log: BikeLog, facts: EndFacts, rides: Sequence[EndRide]) -> str | None:
    """Say what has to be recorded before a step of damping can be named, and how; None where nothing is missing.

    Parameters are those of `damping_steps`.
    """
    wanted = [name for felt in _felt(facts, rides) for name, _ in AGAINST[felt][:1]]
    wanted = [name for name in dict.fromkeys(wanted) if not _is_missing(facts, name)]
    if not wanted or not rides:
        return None
    options = [
        f"--setting {facts.end.value}.{name}='{_example(facts, name)}'"
        for name in wanted
        if any(_count(leg, name, rides) is None for leg in _legs(facts, name))
    ]
    entry, case = rides[-1].ride.entry, log.load_of(rides[-1].ride).case or rides[-1].ride.load_case
    if entry.pressure_kpa(facts.end) is None and placard_kpa(log.bike.end(facts.end), case):
        options.append(f"--tyre {facts.end.value}='2.5 bar'")
    if not options:
        return None
    number = rides[-1].ride.number
    return f"To have a step of damping named: strandline ride amend {number} {' '.join(options)}."


def _felt(facts: EndFacts, rides: Sequence[EndRide]) -> Iterator[Felt]:
    """List what was felt on the last ride that damping helps against; dive is of the fork."""
    felt = rides[-1].ride.entry.felt_at(facts.end) if rides else frozenset()
    for word in AGAINST:
        if word in felt and (word is not Felt.DIVES or facts.end is End.FRONT):
            yield word


def _legs(facts: EndFacts, name: str) -> list[BikeLeg]:
    return [leg for leg in facts.legs if any(one.name == name for one in leg.adjusters)]


def _is_missing(facts: EndFacts, name: str) -> bool:
    return not _legs(facts, name)


def _is_at_its_end(facts: EndFacts, rides: Sequence[EndRide], name: str, way: Way) -> bool:
    counts = [_count(leg, name, rides) for leg in _legs(facts, name)]
    return all(one is not None for one in counts) and _step(facts, rides, name, way) is None


def _example(facts: EndFacts, name: str) -> str:
    kind = next(one.kind for one in _legs(facts, name)[0].adjusters if one.name == name)
    return "1.5 turns" if kind is AdjusterKind.TURNS else "8 clicks"


def _step(facts: EndFacts, rides: Sequence[EndRide], name: str, way: Way) -> str | None:
    places = []
    for leg in _legs(facts, name):
        adjuster = next(one for one in leg.adjusters if one.name == name)
        places.append(_moved(adjuster, _count(leg, name, rides), way))
    if not places or places[0] is None or any(one != places[0] for one in places):
        return None
    both = ", both sides alike" if len(places) > 1 else ""
    (adjuster,) = (one for one in _legs(facts, name)[0].adjusters if one.name == name)
    much = "a quarter turn" if adjuster.kind is AdjusterKind.TURNS else "one click"
    return f"{name} damping: {much} {way.name.lower()}{both}, {places[0]}"


def _tyres_are_right(log: BikeLog, facts: EndFacts, one: EndRide) -> bool:
    entry, case = one.ride.entry, log.load_of(one.ride).case or one.ride.load_case
    known = entry.pressure_kpa(facts.end) is not None and bool(placard_kpa(log.bike.end(facts.end), case))
    return known and tyre_fault(log.bike, facts.end, entry, case) is None


def _count(leg: BikeLeg, name: str, rides: Sequence[EndRide]) -> tuple[float, CountedFrom] | None:
    """Count that was recorded last; None where there is none, or it is not sure."""
    for one in reversed(rides):
        for setting in one.ride.settings:
            if setting.leg is leg.name and setting.adjuster == name:
                sure = setting.count is not None and setting.confidence is Confidence.COUNTED
                return (setting.count, setting.counted_from) if sure and setting.count is not None else None
    return None


def _moved(adjuster: Adjuster, counted: tuple[float, CountedFrom] | None, way: Way) -> str | None:
    """Say from which count to which; None at the adjuster's end, or where that is not known to be further."""
    if adjuster.kind is AdjusterKind.POSITIONS or counted is None:
        return None
    count, counted_from = counted
    low, high = adjuster.range
    size = TURN_SHARE if adjuster.kind is AdjusterKind.TURNS else 1.0
    to = count + size * (way if counted_from is CountedFrom.SOFT else -way)
    if to < low or (to > count and (high is None or to > high)):
        return None
    end = "up from the soft end" if counted_from is CountedFrom.SOFT else "out"
    return f"from {count:g} to {to:g} {end}"

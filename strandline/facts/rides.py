"""The rides of a logbook as one end of the bike saw them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from ridelog.bikes.bike import Bike
from ridelog.names import Confidence
from ridelog.storage.records import LoadCase, Ride, Setting
from ridelog.storage.store import Logbook
from strandline.facts.bike import count as count_of
from strandline.facts.ends import PRELOAD, EndFacts
from strandline.facts.loads import CaseLoads, loads_of
from strandline.facts.readings import answer_for, bikes_then
from strandline.shared.messages import printable
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.springs.adjuster import Adjuster, Count, CountedFrom
from suspension.stroke.leg_pair import compare_legs
from suspension.stroke.stroke import StrokeAnswer

NO_LOAD = "load not stated"
"""Name of the load case of rides that say none."""


@dataclass(frozen=True)
class EndRide:
    """One ride at one end.

    Attributes
    ----------
    ride : Ride
    load : str
        Name of its load case.
    count : Count
        Preload as recorded for both sides; not sure where the sides differ, unknown where nothing was recorded.
    up : float or None
        The same up from the soft end.
    answer : StrokeAnswer or None
        Of the deeper leg.
    at_far_end, legs_differ : bool
    is_refused : bool
        A reading of this end contradicts the lengths in the bike's file.
    taken_over : str or None
        Where the count comes from, in a sentence, where none was recorded with the ride.
    problems : tuple of str
        What stands in the way of more.
    """

    ride: Ride
    load: str
    count: Count
    up: float | None
    answer: StrokeAnswer | None = None
    at_far_end: bool = False
    legs_differ: bool = False
    is_refused: bool = False
    taken_over: str | None = None
    problems: tuple[str, ...] = ()

    @property
    def route(self) -> str:
        """Route with case and spaces folded: loops of one name are one loop."""
        return " ".join((self.ride.entry.route or "").split()).casefold()

    @property
    def used_mm(self) -> Quantity | None:
        """Used stroke of the deeper leg."""
        return None if self.answer is None else self.answer.used_mm

    @property
    def has_reading(self) -> bool:
        """Whether its markers say anything of this end."""
        return self.used_mm is not None or self.at_far_end


@dataclass(frozen=True)
class BikeLog:
    """What the logbook holds of a bike, gathered once.

    Attributes
    ----------
    bike : Bike
        As its file is now.
    rides : tuple of Ride
        By date.
    then : mapping of str to Bike
        The bike at each ride, by the version that the ride names.
    loads : mapping of str to CaseLoads
        Every load case by its name.
    """

    bike: Bike
    rides: tuple[Ride, ...]
    then: Mapping[str, Bike]
    loads: Mapping[str, CaseLoads]

    def load_of(self, ride: Ride) -> CaseLoads:
        """Give the load of a ride: as it was then, or as it is known now if only its name was given."""
        name = load_name(ride)
        case = ride.load_case
        if case is not None and (case.items or case.axle_loads):
            return loads_of(self.bike, name, case)
        return self.loads.get(name) or loads_of(self.bike, name, None)


def load_name(ride: Ride) -> str:
    """Name of a ride's load case."""
    return NO_LOAD if ride.load_case is None else ride.load_case.name


def gather(logbook: Logbook, bike: Bike) -> BikeLog:
    """Gather what an open logbook holds of a bike; nothing where it does not know it."""
    known = logbook.bikes.find(bike.name)
    if known is None:
        return BikeLog(bike, (), {}, {})
    rides = logbook.rides.all_rides(known.id)
    cases: dict[str, LoadCase] = {one.name: one for one in logbook.loads.current(known.id)}
    return BikeLog(
        bike,
        rides,
        bikes_then(logbook, rides, known.id),
        {name: loads_of(bike, name, case) for name, case in cases.items()},
    )


def end_rides(log: BikeLog, facts: EndFacts) -> tuple[EndRide, ...]:
    """List the rides as one end saw them, by date; those that say nothing of it are left out."""
    found = (_end_ride(ride, log.then[ride.entry.bike_version_id], facts) for ride in log.rides)
    return tuple(one for one in found if one.has_reading or one.is_refused or one.count.value is not None)


def _end_ride(ride: Ride, then: Bike, facts: EndFacts) -> EndRide:
    count, problems = _count(ride, facts)
    answers = []
    at_end = refused = False
    for reading in ride.readings:
        if reading.leg.end is not facts.end:
            continue
        answer = answer_for(reading, then)
        if not isinstance(answer, StrokeAnswer):
            problems.append(printable(f"{reading.leg.value}: {answer.message}"))
            refused = True
            continue
        at_end = at_end or answer.at_least
        if answer.used_mm is None:
            problems += [f"{reading.leg.value}: {line}" for line in answer.withheld[:1]]
        else:
            answers.append((answer, answer.used_mm))
    deeper, differ = _deeper(answers)
    up = None if facts.adjuster is None else _up(facts.adjuster, count, problems)
    refused = refused and not answers and not at_end
    return EndRide(ride, load_name(ride), count, up, deeper, at_end, differ, refused, None, tuple(problems))


def _deeper(answers: list[tuple[StrokeAnswer, Quantity]]) -> tuple[StrokeAnswer | None, bool]:
    """Find the deepest of all legs, and whether two differ by more than their uncertainty."""
    if not answers:
        return None, False
    deepest, depth = answers[0]
    for answer, used in answers[1:]:
        if compare_legs(depth, used).deeper_mm is used:
            deepest, depth = answer, used
    return deepest, any(compare_legs(a, b).flagged for (_, a), (_, b) in combinations(answers, 2))


def _count(ride: Ride, facts: EndFacts) -> tuple[Count, list[str]]:
    """Find the preload count of both sides."""
    none = Count(None, CountedFrom.SOFT, Confidence.UNKNOWN)
    settings = [one for one in ride.settings if one.leg.end is facts.end and one.adjuster == PRELOAD]
    kind = None if facts.adjuster is None else facts.adjuster.kind
    usable = [one for one in settings if one.kind is kind]
    if len(usable) < len(settings):
        return none, ["The count was recorded for another kind of adjuster than the bike's file names now."]
    if not usable:
        return none, []
    first, *others = usable
    if any(_differs(first, other) for other in others):
        return (
            Count(count_of(first).value, first.counted_from, Confidence.IN_DOUBT),
            ["The two sides were set differently: count both again, and set them the same."],
        )
    doubtful = [one for one in usable if one.confidence is not Confidence.COUNTED]
    return count_of(doubtful[0] if doubtful else first), []


def _differs(first: Setting, other: Setting) -> bool:
    return (first.count, first.counted_from) != (other.count, other.counted_from)


def _up(adjuster: Adjuster, count: Count, problems: list[str]) -> float | None:
    """Convert a count to one up from the soft end, if the adjuster as described now has it."""
    up = adjuster.from_soft(count)
    try:
        if up is not None:
            adjuster.check(up)
    except SuspensionError as error:
        problems.append(error.message)
        return None
    return up

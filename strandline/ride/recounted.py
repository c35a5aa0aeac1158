"""A recount against the latest logged count: agreed, or the logged one is noted as not known."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ridelog.bikes.bike import Bike
from ridelog.bikes.values import as_count
from ridelog.errors import AmountError, RecordError
from ridelog.names import Confidence
from ridelog.storage.records import Provenance, Ride, Setting, new_id
from ridelog.storage.store import Logbook
from strandline.facts.bike import count
from strandline.shared.parse import name_and_value
from suspension.springs.adjuster import recounted


@dataclass(frozen=True)
class Recount:
    """What came of it.

    Attributes
    ----------
    ride : int
        Number of the ride whose count was compared.
    agrees : bool
    words : str
    """

    ride: int
    agrees: bool
    words: str


def recount(logbook: Logbook, bike: Bike, typed: str, origin: Provenance) -> Recount:
    """Compare a count with the latest logged one of the same adjuster, and correct that ride where they differ.

    Raises
    ------
    RecordError, AmountError, SuspensionError
        No such adjuster, no count in the logbook, or a count that the adjuster does not have.
    """
    key, value = name_and_value(typed, "--setting", "rear.preload='5 clicks'")
    place, _, adjuster = key.partition(".")
    legs = bike.legs_of(place)
    one = legs[0].adjuster(adjuster or "preload")
    again = as_count(value, f"{place} {one.name}")
    if again.kind is not one.kind:
        raise AmountError(
            f"The {one.name} is counted in {one.kind.value}, not in {again.kind.value}.", "Count again."
        )
    ride, logged = _latest(logbook, bike, [leg.name.value for leg in legs], one.name)
    result = recounted(count(logged), again.number, one.plain)
    what = f"{place} {one.name}"
    if result.is_sure:
        words = f"Your count agrees with ride {ride.number}: the logged setting was right, {again.text}."
        return Recount(ride.number, True, words)
    unknown = [
        replace(
            setting,
            id=new_id(),
            count=None,
            confidence=Confidence.UNKNOWN,
            provenance=origin,
        )
        for setting in ride.settings
        if setting.leg in {leg.name for leg in legs} and setting.adjuster == one.name
    ]
    logbook.rides.amend(ride, settings=unknown)
    before = "not known" if logged.count is None else f"{logged.count:g}"
    return Recount(
        ride.number,
        False,
        f"You counted {again.text}, ride {ride.number} has {before}: what the {what} was then is not known, and is now "
        f"noted so. It stands at {again.text} from the soft end once you wind it back; record the next ride with that.",
    )


def _latest(logbook: Logbook, bike: Bike, legs: list[str], adjuster: str) -> tuple[Ride, Setting]:
    known = logbook.bikes.find(bike.name)
    rides = () if known is None else logbook.rides.all_rides(known.id)
    for ride in reversed(rides):
        for setting in ride.settings:
            if setting.leg.value in legs and setting.adjuster == adjuster:
                return ride, setting
    raise RecordError(
        f"The logbook has no count of {adjuster} there.",
        "Record a ride with --setting, then there is one to compare.",
    )

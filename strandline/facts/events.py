"""What stands before any step: events that nobody has looked at yet, and tyre pressures off the placard."""

from __future__ import annotations

from collections.abc import Iterable

from ridelog.bikes.bike import Bike, BikeEnd
from ridelog.names import End
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Load, LoadCase, Ride, RideEntry

# Tyre pressures within 20 kPa (0.2 bar) are the same: gauges differ by so much [common practice, no source].
SAME_PRESSURE_KPA = 20.0

RETIRED = " (retired)"
"""End of the name of a route that is not ridden any more."""


def open_events(rides: Iterable[Ride]) -> tuple[str, ...]:
    """List the events that no later entry has cleared, as they were written; they concern the whole bike.

    Parameters
    ----------
    rides : iterable of Ride
        By date and number. Withdrawn ones do not count.
    """
    found: dict[str, str] = {}
    for ride in rides:
        if ride.withdrawn:
            continue
        for words in ride.entry.events:
            found.setdefault(fold(words), words)
        for words in ride.entry.events_cleared:
            found.pop(fold(words), None)
    return tuple(found.values())


def tyre_fault(bike: Bike, end: End, entry: RideEntry, case: LoadCase | None) -> str | None:
    """Say how a tyre's pressure on a ride is off the placard; None where it is not, or one of both is not known.

    With a load of which only the name is known, both pressures of the placard are right.

    Parameters
    ----------
    bike : Bike
        Whose file has the placard's pressures.
    end : End
    entry : RideEntry
        With the pressures of the ride.
    case : LoadCase or None
        What the bike carried.
    """
    measured = entry.pressure_kpa(end)
    wanted = placard_kpa(bike.end(end), case)
    if measured is None or not wanted:
        return None
    low, high = min(wanted) - SAME_PRESSURE_KPA, max(wanted) + SAME_PRESSURE_KPA
    if low <= measured <= high:
        return None
    right = " or ".join(f"{one / 100:.1f}" for one in wanted)
    return f"The {end.value} tyre had {measured / 100:.1f} bar, the placard says {right} bar."


def placard_kpa(end: BikeEnd, case: LoadCase | None) -> tuple[float, ...]:
    """Give the placard's pressures for a load, gauge, kPa: one, both where the load's parts are not known, or none."""
    solo = None if end.tyre_solo is None else end.tyre_solo.value
    loaded = None if end.tyre_loaded is None else end.tyre_loaded.value
    if case is not None and case.items:
        carries = any(one.what in (Load.PASSENGER, Load.LUGGAGE) for one in case.items)
        own = loaded if carries else solo
        return () if own is None else (own,)
    return tuple(dict.fromkeys(one for one in (solo, loaded) if one is not None))

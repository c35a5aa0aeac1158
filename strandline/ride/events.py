"""Events of a ride: what is found stops all riding until an entry clears it in the same words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ridelog.bikes.bike import Bike
from ridelog.errors import RecordError
from ridelog.names import End
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Ride
from strandline.facts.events import RETIRED, open_events, tyre_fault
from suspension.quantities.grammar import quote

ALL = "all"


def events_cleared(typed: Sequence[str], found: Sequence[str], earlier: Iterable[Ride]) -> tuple[str, ...]:
    """Give the events that an entry clears, in the words in which they were recorded.

    Parameters
    ----------
    typed : sequence of str
        As typed: an event's words, or "all".
    found : sequence of str
        Events of the same entry.
    earlier : iterable of Ride
        Those before it, by date.

    Raises
    ------
    RecordError
        There is no such open event.
    """
    still_open = {fold(words): words for words in (*open_events(earlier), *found)}
    if not still_open and any(typed):
        raise RecordError("No event is open on this bike.", "Leave --event-cleared out.")
    cleared: list[str] = []
    for text in filter(None, (one.strip() for one in typed)):
        if fold(text) == ALL:
            cleared += still_open.values()
        elif fold(text) in still_open:
            cleared.append(still_open[fold(text)])
        else:
            known = ", ".join(quote(one) for one in still_open.values())
            raise RecordError(
                f"{quote(text)} is not an open event of this bike (open: {known}).",
                "Write it in the same words, or --event-cleared all.",
            )
    return tuple(dict.fromkeys(cleared))


def earlier_rides(rides: Iterable[Ride], seen: Ride) -> tuple[Ride, ...]:
    """List the rides before one, by date and number."""
    key = (seen.entry.date, seen.number)
    return tuple(one for one in rides if (one.entry.date, one.number) < key)


def stop_lines(rides: Iterable[Ride]) -> Iterator[str]:
    """Say which events forbid riding, and how each is cleared."""
    for words in open_events(rides):
        yield (
            f"Stop riding until this has been looked at: {words}. Then record it: strandline ride add --bike BIKE "
            f'--event-cleared "{words}".'
        )


def tyre_lines(ride: Ride, bike: Bike) -> Iterator[str]:
    """Say which tyre pressures of a ride are off the placard."""
    for end in End:
        fault = tyre_fault(bike, end, ride.entry, ride.load_case)
        if fault is not None:
            yield f"{fault} Set it before you change anything on the suspension."


def retired_lines(route: str | None, rides: Iterable[Ride]) -> Iterator[str]:
    """Say that earlier rides over a route of this name are left out, and how to take them up again.

    Parameters
    ----------
    route : str or None
        Of a ride that was recorded now.
    rides : iterable of Ride
        Those before it.
    """
    name = f"{route}{RETIRED}"
    number = sum(fold(one.entry.route or "") == fold(name) for one in rides if not one.withdrawn)
    if route is not None and number:
        which = "1 earlier ride over it is" if number == 1 else f"{number} earlier rides over it are"
        yield (
            f"The route {route} was retired: {which} left out. To take them up again: strandline ride route "
            f'--bike BIKE --route "{name}" --rename "{route}".'
        )


def later_lines(ride: Ride, rides: Iterable[Ride]) -> Iterator[str]:
    """Say that a ride that was just dated by the clock lies before others: the clock may have gone back."""
    latest = max(rides, key=lambda one: (one.entry.date, one.number), default=None)
    if latest is not None and latest.entry.date > ride.entry.date:
        yield (
            f"Ride {latest.number} is of {latest.entry.date}, later than today by this machine's clock: one of the two "
            f"dates is wrong, and advice goes by the latest ride. Correct it with strandline ride amend {ride.number} "
            f"--date or strandline ride amend {latest.number} --date."
        )


def first_spelling(route: str | None, rides: Iterable[Ride]) -> str | None:
    """Give a route as it was first written: names that differ in case and spaces only are one route."""
    if route is None:
        return None
    written = (one.entry.route for one in rides if one.entry.route)
    return next((one for one in written if fold(one) == fold(route)), " ".join(route.split()))

"""What ``strandline`` says without a command: what there is and what comes next, or the three ways to begin."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.shared.as_typed import as_typed
from strandline.shared.messages import printable, some
from strandline.shared.storage import bikes_folder, bikes_in, opened, place, quick_name

if TYPE_CHECKING:
    from ridelog.storage.records import Ride

BEGIN = """\
There is no bike and no ride yet. Three ways to begin:
  strandline demo                  look at an invented bike
  strandline bike new Grey twin    describe your bike, in eight answers
  strandline read PHOTO.jpg --shaft 41mm --layout fork     read one photo
strandline card draws the card to print; strandline --help lists all commands.
"""
# A screen of five lines: so many bikes, then what is next and where the help is.
BIKES_SHOWN = 3


def overview(named: Path | None) -> str:
    """Write the overview.

    Parameters
    ----------
    named : Path or None
        The logbook; None for the one in the data folder.

    Returns
    -------
    str
        Five lines at most.
    """
    files = {quick_name(path) or path.stem: path.stem for path in bikes_in(bikes_folder(named))}
    rides = _rides(named)
    if not files and not rides:
        return BEGIN
    return "\n".join(map(printable, _lines(files, rides))) + "\n"


def _rides(named: Path | None) -> tuple[Ride, ...]:
    if not place(named).exists():
        return ()
    with opened(named, create=False) as logbook:
        return logbook.rides.all_rides()


def _lines(files: dict[str, str], rides: tuple[Ride, ...]) -> Iterator[str]:
    of_bike: dict[str, list[Ride]] = {}
    for ride in sorted(rides, key=lambda one: (one.entry.date, one.number), reverse=True):
        of_bike.setdefault(ride.bike.name, []).append(ride)
    names = [*of_bike, *(name for name in files if name not in of_bike)]
    for name in names[:BIKES_SHOWN]:
        mine = of_bike.get(name, [])
        yield f"{name}: {last_ride(mine)}"
    if len(names) > BIKES_SHOWN:
        yield f"{some(len(names) - BIKES_SHOWN, 'more bike')}: strandline bike list"
    yield from _next(names[0], files, of_bike.get(names[0], []))
    if len(names) < BIKES_SHOWN:
        yield "strandline --help lists all commands."


def last_ride(rides: Sequence[Ride]) -> str:
    """Say how many rides there are and when the last was; the rides are the newest first."""
    if not rides:
        return "no ride yet."
    last = rides[0]
    load = None if last.load_case is None else last.load_case.name
    where = ", ".join(part for part in (last.entry.route, load) if part)
    return f"{some(len(rides), 'ride')}, the last on {last.entry.date}" + (f" ({where})." if where else ".")


class Next(Enum):
    """What is next for a bike: ride, a reading of the last ride, or the advice."""

    RIDE = 1
    READING = 2
    ADVICE = 3


def next_for(rides: Sequence[Ride]) -> Next:
    """Say what is next for a bike; the rides are the newest first."""
    if not rides:
        return Next.RIDE
    return Next.ADVICE if rides[0].readings else Next.READING


def _next(name: str, files: dict[str, str], rides: list[Ride]) -> Iterator[str]:
    """Give the next command for the bike that was ridden last, ready to copy."""
    if name not in files:
        yield f"Next: this bike has no file any more. strandline bike new {as_typed(name)}"
        return
    bike = shlex.quote(files[name])
    following = next_for(rides)
    if following is Next.RIDE:
        yield "Next: slide the marker to the seal, ride, photograph it with the card, then"
        yield f"  strandline read PHOTO.jpg --bike {bike} --record"
    elif following is Next.READING:
        yield f"Next: ride {rides[0].number} has no reading of a marker yet:"
        yield f"  strandline ride amend {rides[0].number} --photo LEG=PHOTO.jpg"
    else:
        yield f"Next: strandline advise --bike {bike}"

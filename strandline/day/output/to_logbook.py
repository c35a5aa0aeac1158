"""The day's readings into a logbook: a ride for each bike before and after, and no reading twice."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from pathlib import Path

from ridelog.bikes.file import read_bike
from ridelog.names import LegName
from ridelog.storage.records import Provenance, Reading, Ride, RideEntry, Source
from ridelog.storage.store import Logbook
from strandline import __version__
from strandline.day.identify.identity import Phase
from strandline.day.results.results import BikeResult, DayResults, LegReading
from strandline.facts.photo_readings import PhotoReading, log_reading
from strandline.shared.parse import today
from strandline.shared.photo_days import earliest_day


def without_file(day: DayResults) -> tuple[str, ...]:
    """List entrants whose readings cannot be recorded, because a logbook's ride needs a bike's file."""
    return tuple(bike.label for bike in day.bikes if bike.legs and not bike.bike_name)


def to_logbook(day: DayResults, roster: Path, logbook: Path) -> int:
    """Record the readings that count, of bikes that have a file.

    Parameters
    ----------
    day : DayResults
    roster : Path
        Bikes' files are named from its folder.
    logbook : Path
        Made where it is not there.

    Returns
    -------
    int
        Readings that were not in it yet. A photo's reading of a leg is recorded once, by the photo's content;
        `strandline ride amend` corrects it.

    Raises
    ------
    ridelog.errors.LogbookError
    """
    recorded = 0
    with Logbook.open(logbook) as book:
        rides: dict[str, list[Ride]] = defaultdict(list)
        for ride in book.rides.all_rides():
            rides[ride.bike.name].append(ride)
        for bike in (one for one in day.bikes if one.bike_name):
            for phase in bike.phases:
                recorded += _record(book, rides[bike.bike_name], day.name, bike, phase, roster.parent)
    return recorded


def _record(
    book: Logbook, rides: list[Ride], day_name: str, bike: BikeResult, phase: Phase, folder: Path
) -> int:
    """Record one bike's readings of one phase that are not in its rides yet."""
    origin = Provenance(Source.TYPED, __version__)
    file = read_bike(folder / bike.bike_file, inside=folder)
    # A leg that the roster alone describes is none of the bike's.
    known = {leg.name for leg in file.bike.legs}
    legs = [one for one in bike.legs if one.phase is phase and one.leg in known]
    there = {(reading.provenance.photo_sha256, reading.leg) for ride in rides for reading in ride.readings}
    new = [one for one in legs if (one.counted.sha256, one.leg) not in there]
    if not new:
        return 0
    readings = tuple(_reading(one.leg, one.counted) for one in new)
    route = " ".join(part for part in (f"Tech day {day_name}:", bike.label, phase.value) if part)
    same = next((ride for ride in rides if ride.entry.route == route and not ride.withdrawn), None)
    if same is not None:
        book.rides.amend(same, readings=readings)
        return len(readings)
    version = book.bikes.put_file(file, origin)
    times = (one.counted.when for one in legs)
    taken = earliest_day(None if when is None else dt.datetime.fromisoformat(when) for when in times)
    entry = RideEntry(taken or today(), version.id, origin, route=route)
    rides.append(book.rides.add(version.bike_id, entry, (), readings))
    return len(readings)


def _reading(leg: LegName, counted: LegReading) -> Reading:
    record = counted.record
    photo = PhotoReading(
        counted.file,
        counted.sha256,
        record.shaft_lengths,
        record.marker,
        record.state,
        record.marker_at_stop,
    )
    return log_reading(leg, photo)

"""The day's readings into a logbook: a ride for each bike before and after, and no reading twice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ridelog.bikes.file import read_bike
from ridelog.names import LegName
from ridelog.storage.records import Provenance, Reading, Ride, RideEntry, Source
from ridelog.storage.store import Logbook
from strandline import __version__
from strandline.day.identify.identity import Phase
from strandline.day.results.results import BikeResult, DayResults, LegReading, LegResult
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State

_LENGTHS = ("exposed_mm", "marker_mm", "remaining_mm")


def to_logbook(day: DayResults, roster: Path, logbook: Path) -> int:
    """Record the readings that count.

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
    logbook.errors.LogbookError
    """
    recorded = 0
    with Logbook.open(logbook) as book:
        for bike in day.bikes:
            for phase in bike.phases:
                legs = [one for one in bike.legs if one.phase is phase]
                recorded += _record(book, day, bike, phase, legs, roster.parent)
    return recorded


def _record(
    book: Logbook, day: DayResults, bike: BikeResult, phase: Phase, legs: list[LegResult], folder: Path
) -> int:
    origin = Provenance(Source.TYPED, __version__)
    known = book.bikes.find(bike.bike_name)
    rides = () if known is None else book.rides.all_rides(known.id)
    there = {(reading.provenance.photo_sha256, reading.leg) for ride in rides for reading in ride.readings}
    new = [one for one in legs if (one.counted.sha256, one.leg) not in there]
    if not new:
        return 0
    readings = tuple(_reading(one.leg, one.counted) for one in new)
    route = " ".join(part for part in (f"Tech day {day.name}:", bike.label, phase.value) if part)
    same: Iterator[Ride] = (ride for ride in rides if ride.entry.route == route and not ride.withdrawn)
    ride = next(same, None)
    if ride is not None:
        book.rides.amend(ride, readings=readings)
        return len(readings)
    version = book.bikes.put_file(read_bike(folder / bike.bike_file), origin)
    dates = [dt.date.fromisoformat(one.counted.when[:10]) for one in legs if one.counted.when is not None]
    entry = RideEntry(min(dates, default=dt.date.today()), version.id, origin, route=route)
    book.rides.add(version.bike_id, entry, (), readings)
    return len(readings)


def _reading(leg: LegName, counted: LegReading) -> Reading:
    """A reading as the logbook keeps it, with its covariances."""
    record = counted.record
    exposed, marker, remaining = lengths = [
        None if record[name] is None else Quantity.from_u95(record[name]["value"], record[name]["u95"])
        for name in _LENGTHS
    ]
    return Reading(
        leg,
        Provenance(
            Source.PHOTO,
            __version__,
            photo_name=counted.file.rsplit("/", 1)[-1],
            photo_sha256=counted.sha256,
        ),
        State(record.get("state", "unknown")),
        exposed,
        marker,
        remaining,
        at_stop=record.get("marker_at_stop"),
        exposed_marker_mm2=_shared(record, lengths, 0, 1),
        exposed_remaining_mm2=_shared(record, lengths, 0, 2),
        marker_remaining_mm2=_shared(record, lengths, 1, 2),
    )


def _shared(record: Mapping[str, Any], lengths: list[Quantity | None], i: int, j: int) -> float | None:
    """Covariance of two lengths: the solve's correlation, and the lengths' own uncertainties."""
    matrix = record.get("covariance_mm2")
    a, b = lengths[i], lengths[j]
    if matrix is None or a is None or b is None or None in (matrix[i][j], matrix[i][i], matrix[j][j]):
        return None
    size = (matrix[i][i] * matrix[j][j]) ** 0.5
    return float(matrix[i][j] / size * a.sigma * b.sigma) if size else None

"""Recording a ride: what ``strandline ride add`` and the garage's pages both do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from ridelog.bikes.bike import Bike
from ridelog.errors import LogbookError, RecordError
from ridelog.storage.records import Ride, RideEntry
from strandline.facts.readings import bike_then
from strandline.read.parse import parse_photo_options
from strandline.ride.events import (
    events_cleared,
    first_spelling,
    later_lines,
    retired_lines,
    stop_lines,
    tyre_lines,
)
from strandline.ride.parse import RideOptions, facts, readings, settings
from strandline.ride.photos import SeenPhoto, no_marker_lines, read_photos
from strandline.ride.refuse import refuse_beyond_shaft, refuse_empty
from strandline.shared.parse import EARLIEST_CLOCK, today
from strandline.shared.photo_days import latest_day
from strandline.shared.settings import setting
from strandline.shared.storage import bike_read, place, typed_by


@dataclass(frozen=True)
class RecordedRide:
    """A ride that was recorded.

    Attributes
    ----------
    ride : Ride
    bike : Bike
        As its file described it then.
    cautions : tuple of str
        What to take care of, a sentence each.
    new_load : str or None
        Its load, where that was not known before.
    loads : tuple of str
        Names of the bike's loads.
    before : tuple of Ride
        Those of the bike that were there already.
    dated_by_photo : bool or None
        Whether its photos carry a date that can be right; None where it has none.
    """

    ride: Ride
    bike: Bike
    cautions: tuple[str, ...]
    new_load: str | None
    loads: tuple[str, ...]
    before: tuple[Ride, ...]
    dated_by_photo: bool | None


class RecordedError(RecordError):
    """A ride was recorded, and what comes after it cannot be done."""


@contextmanager
def said_as_recorded(ride: Ride) -> Iterator[None]:
    """Let an error after a ride was recorded say that it is: or else it would be recorded twice.

    Raises
    ------
    RecordedError
    """
    try:
        yield
    except LogbookError as error:
        raise RecordedError(
            f"Ride {ride.number} is recorded. What follows from it cannot be shown: {error.message}",
            error.remedy,
        ) from error


def record_ride(
    logbook_path: Path | None, bike: str, options: RideOptions, read_before: Sequence[SeenPhoto] = ()
) -> RecordedRide:
    """Record a ride with the bike's file as it is now; if a photo cannot be read, nothing is recorded.

    Parameters
    ----------
    logbook_path : Path or None
        Made where it is not there; None for the one in the data folder.
    bike : str
        Its name or file.
    options : RideOptions
    read_before : sequence of SeenPhoto
        Photos that were read already, beside those of the options.

    Raises
    ------
    LogbookError, AmountError, SuspensionError, CalibrationError, VisionError
    click.ClickException
        The ride says nothing, or an option cannot be understood.
    """
    from ridelog.storage.store import Logbook

    parse_photo_options(options.print_scale, options.focal_35mm)
    usual = replace(options, load=options.load or setting("load"), who=options.who or setting("by"))
    with Logbook.open(place(logbook_path), create=True) as logbook:
        file = bike_read(logbook_path, bike)
        origin = typed_by(usual.who)
        entry = facts(usual, RideEntry(EARLIEST_CLOCK, "", origin))
        known = logbook.bikes.find(file.bike.name)
        before = () if known is None else logbook.rides.all_rides(known.id)
        entry = replace(entry, route=first_spelling(entry.route, before))
        entry = replace(entry, events_cleared=events_cleared(options.events_cleared, entry.events, before))
        counts = tuple(settings(usual, file.bike, origin))
        by_hand = tuple(readings(usual, file.bike, origin))
        if not read_before:
            refuse_empty(options)
        refuse_beyond_shaft(by_hand, file.bike)
        seen = (*read_before, *read_photos(usual, file.bike))
        taken = latest_day(one.when for one in seen)
        if options.date is None:
            entry = replace(entry, date=taken or today())
        version = logbook.bikes.put_file(file, origin)
        case = None
        if usual.load and usual.load.strip():
            case = logbook.loads.named(version.bike_id, usual.load.strip(), origin)
        entry = replace(entry, bike_version_id=version.id, load_case_id=None if case is None else case.id)
        rows = (row for one in seen for row in one.rows())
        ride = logbook.rides.add(version.bike_id, entry, counts, (*by_hand, *rows))
        with said_as_recorded(ride):
            then = bike_then(logbook, ride)
            stop = list(stop_lines(logbook.rides.all_rides(version.bike_id)))
            loads = tuple(one.name for one in logbook.loads.current(version.bike_id))
    cautions = [f"{one.reading.leg.value}: {line}" for one in seen for line in one.cautions]
    if options.date is None and taken is None:
        cautions += later_lines(ride, before)
    cautions += [
        *no_marker_lines(seen, ride.number),
        *stop,
        *tyre_lines(ride, then),
        *retired_lines(entry.route, before),
    ]
    is_new = case is not None and case.provenance.id == origin.id
    return RecordedRide(
        ride,
        then,
        tuple(cautions),
        case.name if case is not None and is_new else None,
        loads,
        before,
        taken is not None if seen else None,
    )

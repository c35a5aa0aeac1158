"""``strandline ride amend``: correct a ride; what was recorded stays beside the correction."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.ride.options import ride_options
from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import opened

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelog.bikes.bike import Bike
    from ridelog.storage.records import Provenance, Reading, Ride
    from strandline.ride.parse import RideOptions


@click.command(
    "amend",
    epilog="Example: strandline ride amend 3 --setting rear.preload='7 clicks' --felt wallows",
    short_help="Correct a ride, or withdraw it.",
)
@click.argument("number", type=WholeNumber(min=1))
@ride_options
@click.option("--add", is_flag=True, help="Keep the leg's earlier readings, and add the new ones to them.")
@click.option("--felt-nothing", is_flag=True, help="Remove what was felt.")
@click.option("--withdraw", is_flag=True, help="Withdraw the whole ride.")
@click.option("--withdraw-reading", "gone", multiple=True, metavar="LEG", help="Withdraw a leg's readings.")
@click.option(
    "--bike-file-now", metavar="BIKE", help="Use the bike's file as it is now: its name, or the file."
)
@logbook_option
@json_option
def command(
    number: int,
    add: bool,
    felt_nothing: bool,
    withdraw: bool,
    gone: tuple[str, ...],
    bike_file_now: str | None,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
    **typed: str | tuple[str, ...] | None,
) -> None:
    """Correct ride NUMBER. Only what you give is changed; an empty text, such as --note "", removes a value.

    Nothing is overwritten: a correction is added to the logbook, and strandline ride show --history shows what it
    replaced.
    """
    from dataclasses import replace

    from ridelog.errors import RecordError
    from strandline.facts.readings import bike_then
    from strandline.read.parse import parse_photo_options
    from strandline.ride.events import earlier_rides, events_cleared
    from strandline.ride.parse import RideOptions, facts, readings, settings
    from strandline.ride.photos import read_photos
    from strandline.ride.refuse import refuse_beyond_shaft
    from strandline.ride.text import ride_fields, ride_lines
    from strandline.shared.storage import bike_read, typed_by
    from suspension.quantities.lengths import Units

    options = RideOptions(**typed)  # type: ignore[arg-type]
    parse_photo_options(options.print_scale, options.focal_35mm)
    with opened(logbook_path, create=False) as logbook:
        seen = logbook.rides.get(number)
        origin = typed_by(options.who)
        bike = bike_then(logbook, seen)
        entry = facts(options, seen.entry)
        if felt_nothing:
            entry = replace(entry, felt=(), felt_front=(), felt_rear=())
        if options.events_cleared:
            before = earlier_rides(logbook.rides.all_rides(seen.bike.id), seen)
            cleared = events_cleared(options.events_cleared, entry.events, before)
            entry = replace(entry, events_cleared=cleared)
        if bike_file_now is not None:
            file = bike_read(logbook_path, bike_file_now)
            if file.bike.name != seen.bike.name:
                raise RecordError(
                    f"Ride {number} is of {seen.bike.name}, not of {file.bike.name}.", "Name its file."
                )
            bike = file.bike
        counts = tuple(settings(options, bike, origin))
        by_hand = tuple(readings(options, bike, origin))
        refuse_beyond_shaft(by_hand, bike)
        new = (*by_hand, *(one.reading for one in read_photos(options, bike)))
        struck = [_struck(seen, leg, origin) for leg in gone]
        in_place = (
            *(one if add else _replacing(seen, one) for one in new),
            *_stood(seen, options, bike, {one.leg for one in new} | set(gone)),
        )
        if bike_file_now is not None:
            entry = replace(entry, bike_version_id=logbook.bikes.put_file(file, origin).id)
        if options.load is not None:
            name = options.load.strip()
            case = logbook.loads.named(seen.bike.id, name, origin) if name else None
            entry = replace(entry, load_case_id=None if case is None else case.id)
        if withdraw:
            entry = replace(entry, withdrawn=True)
        changed = entry != seen.entry
        if not (changed or counts or in_place or struck):
            raise RecordError(
                "There is nothing to change.",
                "See strandline ride amend --help for what can be.",
            )
        ride = logbook.rides.amend(
            seen,
            entry=replace(entry, provenance=origin) if changed else None,
            settings=counts,
            readings=(*in_place, *(one for group in struck for one in group)),
        )
        then = bike_then(logbook, ride)
    click.echo(
        json.dumps(ride_fields(ride, then)) if as_json else "\n".join(ride_lines(ride, then, Units(units)))
    )


def _replacing(seen: Ride, reading: Reading) -> Reading:
    """Let a reading take the place of the one of its leg."""
    from dataclasses import replace

    from ridelog.errors import RecordError
    from suspension.stroke.leg import State

    before = [one for one in seen.readings if one.leg is reading.leg]
    if len(before) > 1:
        raise RecordError(
            f"Ride {seen.number} has {len(before)} readings of {reading.leg.value}.",
            f"Add --add to put one more beside them, or first --withdraw-reading {reading.leg.value}.",
        )
    if not before:
        return reading
    state = before[0].state if reading.state is State.UNKNOWN else reading.state
    return replace(reading, replaces=before[0].id, state=state)


def _stood(seen: Ride, options: RideOptions, bike: Bike, left_out: set[str]) -> Iterator[Reading]:
    """Correct how the bike stood at readings that are not read again; their lengths keep their origin."""
    from dataclasses import replace

    from ridelog.storage.records import new_id, now_utc
    from strandline.ride.parse import state_of
    from suspension.stroke.leg import State

    for one in seen.readings:
        state = state_of(options, bike.leg(one.leg))
        if one.leg.value in left_out or state in (State.UNKNOWN, one.state):
            continue
        origin = replace(one.provenance, id=new_id(), recorded_at=now_utc())
        yield replace(one, id=new_id(), replaces=one.id, state=state, provenance=origin)


def _struck(seen: Ride, leg: str, origin: Provenance) -> list[Reading]:
    """Rows that strike a leg's readings out."""
    from dataclasses import replace

    from ridelog.errors import RecordError
    from ridelog.storage.records import new_id

    found = [one for one in seen.readings if one.leg.value == leg]
    if not found:
        raise RecordError(f"Ride {seen.number} has no reading of {leg}.", "See strandline ride show.")
    return [replace(one, id=new_id(), replaces=one.id, provenance=origin, withdrawn=True) for one in found]

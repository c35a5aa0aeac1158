"""``strandline ride add``: a ride, its settings, and what its markers showed."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.ride.options import ride_options
from strandline.shared.options import bike_option, json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "add",
    epilog='Example: strandline ride add --bike grey-twin --route "Ridge loop" --load solo '
    "--setting rear.preload='6 clicks' --photo front-left=IMG_1.jpg --reading rear='remaining 15 mm' "
    "--state on-wheels --felt harsh",
    short_help="Record a ride with its settings and readings.",
)
@bike_option
@ride_options
@logbook_option
@json_option
def command(
    bike: str,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
    **typed: str | tuple[str, ...] | None,
) -> None:
    """Record a ride with its settings and what its markers showed.

    The bike's file, as it is now, is kept with the ride. Photos are read at once, with the shaft and the marker as
    that file describes them. If a photo cannot be read, nothing is recorded.
    """
    import datetime as dt
    from dataclasses import replace

    from ridelog.storage.records import RideEntry
    from strandline.facts.readings import bike_then
    from strandline.ride.events import events_cleared, first_spelling, stop_lines, tyre_lines
    from strandline.ride.parse import RideOptions, facts, readings, settings
    from strandline.ride.photos import no_marker_lines, read_photos
    from strandline.ride.refuse import refuse_beyond_shaft, refuse_empty
    from strandline.ride.text import ride_fields, ride_lines
    from strandline.shared.messages import printable
    from strandline.shared.output_gone import after_it_is_done
    from strandline.shared.storage import bike_read, typed_by
    from suspension.quantities.lengths import Units

    options = RideOptions(**typed)  # type: ignore[arg-type]
    with opened(logbook_path, create=True) as logbook:
        file = bike_read(logbook_path, bike)
        origin = typed_by(options.who)
        entry = facts(options, RideEntry(dt.date.today(), "", origin))
        known = logbook.bikes.find(file.bike.name)
        before = () if known is None else logbook.rides.all_rides(known.id)
        entry = replace(entry, route=first_spelling(entry.route, before))
        entry = replace(entry, events_cleared=events_cleared(options.events_cleared, entry.events, before))
        counts = tuple(settings(options, file.bike, origin))
        by_hand = tuple(readings(options, file.bike, origin))
        refuse_empty(options)
        refuse_beyond_shaft(by_hand, file.bike)
        seen = tuple(read_photos(options, file.bike))
        version = logbook.bikes.put_file(file, origin)
        case = None
        if options.load and options.load.strip():
            case = logbook.loads.named(version.bike_id, options.load.strip(), origin)
            if case.provenance.id == origin.id:
                click.echo(
                    f"The load {case.name} is new: its masses are not known yet (see strandline loads --help).",
                    err=True,
                )
        entry = replace(entry, bike_version_id=version.id, load_case_id=None if case is None else case.id)
        ride = logbook.rides.add(
            version.bike_id, entry, counts, (*by_hand, *(reading for reading, _ in seen))
        )
        then = bike_then(logbook, ride)
        stop = list(stop_lines(logbook.rides.all_rides(version.bike_id)))
    cautions = [f"{reading.leg.value}: {line}" for reading, outcome in seen for line in outcome.cautions]
    cautions += [*no_marker_lines(seen, ride.number), *stop, *tyre_lines(ride, then)]
    with after_it_is_done(f"Ride {ride.number} is recorded."):
        if as_json:
            click.echo(json.dumps({**ride_fields(ride, then), "cautions": cautions}))
            return
        click.echo("\n".join([*ride_lines(ride, then, Units(units)), *map(printable, cautions)]))

"""``strandline ride add``: a ride, its settings, and what its markers showed."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.ride.options import ride_options
from strandline.shared.options import bike_option, json_option, logbook_option


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
    from strandline.ride.parse import RideOptions
    from strandline.ride.record import record_ride
    from strandline.ride.text import ride_fields, ride_lines
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.output_gone import after_it_is_done
    from suspension.quantities.lengths import Units

    with errors_as_messages():
        done = record_ride(logbook_path, bike, RideOptions(**typed))  # type: ignore[arg-type]
    if done.new_load is not None:
        click.echo(
            f"The load {done.new_load} is new: its masses are not known yet (see strandline loads --help).",
            err=True,
        )
    ride = done.ride
    with after_it_is_done(f"Ride {ride.number} is recorded."):
        if as_json:
            click.echo(json.dumps({**ride_fields(ride, done.bike), "cautions": list(done.cautions)}))
            return
        click.echo("\n".join([*ride_lines(ride, done.bike, Units(units)), *map(printable, done.cautions)]))

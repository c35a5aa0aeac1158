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
    from strandline.ride.after import advice_after, after_fields, after_lines
    from strandline.ride.parse import RideOptions
    from strandline.ride.record import RecordedError, record_ride, said_as_recorded
    from strandline.shared.messages import error_text, errors_as_messages
    from strandline.shared.output_gone import after_it_is_done
    from suspension.quantities.lengths import Units

    with errors_as_messages():
        try:
            done = record_ride(logbook_path, bike, RideOptions(**typed))  # type: ignore[arg-type]
            with said_as_recorded(done.ride):
                advice = advice_after(logbook_path, done)
        except RecordedError as error:
            click.echo(error_text(error), err=True)
            return
    if done.new_load is not None:
        _say_new_load(done.new_load, done.loads)
    with after_it_is_done(f"Ride {done.ride.number} is recorded."):
        if as_json:
            click.echo(json.dumps(after_fields(done, advice)))
            return
        click.echo("\n".join(after_lines(done, advice, Units(units), logbook_path)))


def _say_new_load(name: str, known: tuple[str, ...]) -> None:
    from strandline.shared.suggest import did_you_mean
    from strandline.shared.wrapped import wrapped

    meant = did_you_mean(name, [one for one in known if one != name])
    words = f"The load {name} is new: its masses are not known yet (see strandline loads --help). {meant}"
    click.echo("\n".join(wrapped(words.strip())), err=True)

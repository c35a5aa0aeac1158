"""``strandline ride show``: one ride in full."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "show",
    epilog="Example: strandline ride show 3 --history",
    short_help="Show a ride.",
)
@click.argument("number", type=WholeNumber(min=1))
@click.option(
    "--history", is_flag=True, help="Also show what was corrected, and where each value comes from."
)
@units_option()
@logbook_option
@json_option
def command(number: int, history: bool, units: str, logbook_path: Path | None, as_json: bool) -> None:
    """Show ride NUMBER: day, route, load, settings, readings, and the stroke used.

    The stroke used is worked out with the bike's file as it was at that ride.
    """
    from strandline.facts.readings import bike_then
    from strandline.ride.text import history_line, ride_fields, ride_lines
    from strandline.shared.fields import as_fields
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    with opened(logbook_path, create=False) as logbook:
        ride = logbook.rides.get(number)
        then = bike_then(logbook, ride)
        rows = logbook.rides.history(number) if history else None
    if as_json:
        extra = {} if rows is None else {"history": as_fields(rows)}
        click.echo(json.dumps({**ride_fields(ride, then), **extra}))
        return
    click.echo("\n".join(ride_lines(ride, then, Units(units))))
    if rows is None:
        return
    click.echo("History, oldest first:")
    for line in (
        *map(history_line, rows.entries),
        *map(history_line, rows.settings),
        *map(history_line, rows.readings),
    ):
        say_lines(f"  {line}")

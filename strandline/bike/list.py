"""``strandline bike list``: the bikes there are."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import bikes_folder, bikes_in, place


@click.command(
    "list",
    epilog="Example: strandline bike list",
    short_help="List the bikes.",
)
@logbook_option
@json_option
def command(logbook_path: Path | None, as_json: bool) -> None:
    """List the bikes' files, errors in them, and how many rides the logbook has of each."""
    from ridelog.bikes.file import read_bike
    from ridelog.errors import LogbookError
    from ridelog.storage.store import Logbook
    from strandline.shared.messages import errors_as_messages, printable, printable_lines

    found = []
    with errors_as_messages():
        rides: dict[str, int] = {}
        if place(logbook_path).exists():
            with Logbook.open(place(logbook_path), create=False) as logbook:
                for ride in logbook.rides.all_rides():
                    rides[ride.bike.name] = rides.get(ride.bike.name, 0) + 1
        for path in bikes_in(bikes_folder(logbook_path)):
            name, problem = path.stem, None
            try:
                name = read_bike(path).bike.name
            except LogbookError as error:
                problem = error.message
            found.append({"file": str(path), "name": name, "rides": rides.get(name, 0), "problem": problem})
    if as_json:
        click.echo(json.dumps({"bikes": found}))
        return
    for one in found:
        click.echo(printable(f"{one['name']}: {one['rides']} rides, {one['file']}"))
        if one["problem"]:
            click.echo(printable_lines(str(one["problem"])))
    if not found:
        click.echo(
            f"There is no bike in {bikes_folder(logbook_path)} yet. Describe one with strandline bike new."
        )

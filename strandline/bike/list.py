"""``strandline bike list``: the bikes there are."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import bikes_folder


@click.command(
    "list",
    epilog="Example: strandline bike list",
    short_help="List the bikes.",
)
@logbook_option
@json_option
def command(logbook_path: Path | None, as_json: bool) -> None:
    """List the bikes' files, errors in them, and how many rides the logbook has of each."""
    from strandline.bike.listed import listed_bikes
    from strandline.shared.messages import errors_as_messages, printable, printable_lines

    with errors_as_messages():
        found = listed_bikes(logbook_path)
    if as_json:
        fields = [
            {"file": str(one.path), "name": one.name, "rides": len(one.rides), "problem": one.problem}
            for one in found
        ]
        click.echo(json.dumps({"bikes": fields}))
        return
    for one in found:
        click.echo(printable(f"{one.name}: {len(one.rides)} rides, {one.path}"))
        if one.problem:
            click.echo(printable_lines(one.problem))
    if not found:
        click.echo(
            f"There is no bike in {bikes_folder(logbook_path)} yet. Describe one with strandline bike new."
        )

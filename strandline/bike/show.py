"""``strandline bike show``: what is known of a bike."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option, units_option
from strandline.shared.storage import bike_path


@click.command(
    "show",
    epilog="Example: strandline bike show grey-twin",
    short_help="Show what is known of a bike.",
)
@click.argument("bike", default="")
@units_option("of what is shown", "Left out: as written in the file. JSON is always metric.", None)
@logbook_option
@json_option
def command(bike: str, units: str | None, logbook_path: Path | None, as_json: bool) -> None:
    """Show a bike: its values with their 95 % uncertainties, and what is not known.

    BIKE is its name, or its file; left out, the only bike. Unusual values are listed with their lines.
    """
    from ridelog.bikes.file import read_bike
    from strandline.bike.text import lines
    from strandline.facts.plausible import unusual_values
    from strandline.shared.fields import as_fields
    from strandline.shared.messages import errors_as_messages
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    with errors_as_messages():
        path = bike_path(logbook_path, bike)
        file = read_bike(path)
    said = {one.key for one in file.unusual}
    unusual = [one.text for one in file.unusual]
    unusual += [words for words in unusual_values(file.bike) if words.partition(":")[0] not in said]
    if as_json:
        found = {
            "file": str(path),
            "bike": as_fields(file.bike),
            "not_known": file.not_known,
            "unusual": unusual,
        }
        click.echo(json.dumps(found))
        return
    say_lines(*lines(file.bike, None if units is None else Units(units)))
    if file.not_known:
        say_lines("", "Not known: " + ", ".join(file.not_known))
    for text in unusual:
        say_lines(f"Unusual, {text}")

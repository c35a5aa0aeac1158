"""``strandline ride recount``: what a count that was made again says of the setting that was logged."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "recount",
    epilog="Example: strandline ride recount --bike grey-twin --setting rear.preload='5 clicks'",
    short_help="Say what a count made again means.",
)
@bike_option
@click.option(
    "--setting",
    "typed",
    required=True,
    metavar="LEG.ADJUSTER=COUNT",
    help="What you counted backing off to the soft end: rear.preload='5 clicks', '3 turns', '2 positions'.",
)
@logbook_option
@json_option
def command(bike: str, typed: str, logbook_path: Path | None, as_json: bool) -> None:
    """Compare a count made again with the latest one in the logbook.

    If both agree, the logged setting was right. If not, the earlier setting is unknown, and the ride's count is noted
    as not known: nothing is built on readings taken at it.
    """
    from strandline.ride.recounted import recount
    from strandline.shared.storage import bike_read, typed_by
    from strandline.shared.wrapped import say_lines

    with opened(logbook_path, create=False) as logbook:
        found = recount(logbook, bike_read(logbook_path, bike).bike, typed, typed_by(None))
    if as_json:
        click.echo(json.dumps({"ride": found.ride, "agrees": found.agrees, "words": found.words}))
        return
    say_lines(found.words)

"""``strandline garage``: pages for a phone beside the bike."""

from __future__ import annotations

from pathlib import Path

import click

from strandline.shared.options import WholeNumber, json_option, logbook_option, units_option


@click.command(
    "garage",
    epilog="Example: strandline garage --lan",
    short_help="Open the garage in a browser, or on a phone beside the bike.",
)
@click.option(
    "--lan",
    is_flag=True,
    help="Let phones in the same network in, each by a code to scan. Left out: this machine alone.",
)
@click.option(
    "--port",
    type=WholeNumber(1024, 65535),
    metavar="NUMBER",
    default=8427,
    show_default=True,
    help="Port of the pages.",
)
@units_option("of the pages", "")
@logbook_option
@json_option
def command(lan: bool, port: int, units: str, logbook_path: Path | None, as_json: bool) -> None:
    """Open the garage: bikes, rides, photos and advice as pages for a phone or for this machine's browser.

    The pages need nothing from outside and call what the other commands call. Ctrl-C ends it. With --json the
    addresses are one line.
    """
    from strandline.garage.serve import serve
    from strandline.garage.settings import GarageSettings
    from strandline.shared.messages import errors_as_messages
    from suspension.quantities.lengths import Units

    with errors_as_messages():
        serve(GarageSettings(logbook_path, port, units=Units(units)), lan=lan, as_json=as_json)

"""``strandline garage``: pages for a phone beside the bike."""

from __future__ import annotations

from pathlib import Path

import click

from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import json_option, logbook_option, units_option


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
@click.option(
    "--address",
    metavar="ADDRESS",
    help="This machine's address in the phones' network, where it has several. Implies --lan.",
)
@click.option(
    "--day",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Open a tech day's folder, too: its roster, photos from several phones, and its page.",
)
@units_option("of the pages", "")
@logbook_option
@json_option
def command(
    lan: bool,
    port: int,
    address: str | None,
    day: Path | None,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Open the garage: bikes, rides, photos and advice as pages for a phone or for this machine's browser.

    The pages need nothing from outside and call what the other commands call. Ctrl-C ends it. With --json the
    addresses are one line.
    """
    import ipaddress

    from strandline.garage.serve import serve
    from strandline.garage.settings import GarageSettings
    from strandline.shared.messages import errors_as_messages
    from suspension.quantities.lengths import Units

    try:
        addresses = () if address is None else (str(ipaddress.IPv4Address(address)),)
    except ValueError:
        raise click.BadParameter("Write it as four numbers: 192.168.1.20.", param_hint="--address") from None
    if day is not None and not day.is_dir():
        raise click.BadParameter(f"There is no folder {day}.", param_hint="--day")
    with errors_as_messages():
        settings = GarageSettings(logbook_path, port, addresses, day, Units(units))
        serve(settings, lan=lan or address is not None, as_json=as_json)

"""``strandline mark``: the marks of one photo in this machine's browser."""

from __future__ import annotations

from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option, print_scale_option, units_option
from strandline.shared.photo_options import LAYOUTS


@click.command(
    "mark",
    epilog="Example: strandline mark IMG_1.jpg --shaft 41.02mm --layout fork",
    short_help="Set the marks of a photo by hand, in this machine's browser.",
)
@click.argument("photo", type=click.Path(path_type=Path))
@click.option(
    "--bike",
    metavar="BIKE",
    help="Take shaft, layout, marker and lengths from this bike's file. Left out without --shaft and --layout: the "
    "only bike.",
)
@click.option(
    "--leg", metavar="LEG", help="The leg in the photo: front-left. Left out: the only one possible."
)
@click.option(
    "--shaft", metavar="LENGTH", help="Diameter of the bare shaft, measured with a caliper: 41.02mm."
)
@click.option("--layout", type=click.Choice(LAYOUTS, case_sensitive=False), help="What the shaft belongs to.")
@print_scale_option
@click.option("--no-browser", is_flag=True, help="Only say where the page is.")
@units_option("of the page", "")
@logbook_option
@json_option
def command(
    photo: Path,
    bike: str | None,
    leg: str | None,
    shaft: str | None,
    layout: str | None,
    print_scale: str | None,
    no_browser: bool,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Set seal, marker, far end and the shaft's edges in PHOTO by hand; the lengths follow each move.

    The page opens in the browser, for this machine alone. What the program saw is offered first. Each reading that is
    kept there is printed here; where the photo is a ride's, the ride is corrected. Ctrl-C ends it.
    """
    from strandline.mark.of_photo import PhotoToMark, Wanted
    from strandline.read.parse import parse_photo_options
    from strandline.shared.messages import errors_as_messages
    from suspension.quantities.lengths import Units

    typed = shaft is not None or layout is not None
    if typed and (shaft is None or layout is None):
        raise click.UsageError(
            "--shaft and --layout belong together; or take both from a bike's file: --bike."
        )
    if typed and (bike is not None or leg is not None):
        raise click.UsageError(
            "Shaft and layout stand in the bike's file: leave --bike out, or both of these."
        )
    parse_photo_options(print_scale, None)
    with errors_as_messages():
        wanted = Wanted(photo, bike, leg, shaft, layout, print_scale, Units(units), logbook_path)
        with PhotoToMark.of(wanted) as marking:
            marking.serve(opens_browser=not no_browser, as_json=as_json)

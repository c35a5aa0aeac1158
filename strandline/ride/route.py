"""``strandline ride route``: the routes, and another name for one, without losing what was recorded."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "route",
    epilog='Example: strandline ride route --bike grey-twin --route "Ridge loop" --rename "Ridge loop, north"',
    short_help="List the routes, rename or retire one.",
)
@bike_option
@click.option("--route", metavar="NAME", help="Only this route; needed to rename or retire one.")
@click.option("--rename", metavar="NAME", help="Give the route another name, for its earlier rides too.")
@click.option(
    "--retire", is_flag=True, help="The route is not ridden any more: its rides stay, but count no more."
)
@logbook_option
@json_option
def command(
    bike: str,
    route: str | None,
    rename: str | None,
    retire: bool,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """List the routes of a bike with their rides, rename one, or retire one.

    Names that differ in case and spaces only are one route. Nothing is overwritten: a new name is a correction of each
    ride.
    """
    from ridelog.errors import RecordError
    from ridelog.storage.folded_names import fold
    from strandline.facts.events import RETIRED
    from strandline.ride.events import first_spelling
    from strandline.ride.parse import not_too_long
    from strandline.shared.messages import printable
    from strandline.shared.storage import bike_read, typed_by

    if (rename is not None or retire) and (route is None or (rename is not None and retire)):
        raise click.UsageError("--rename and --retire take one route, named with --route, and not both.")
    with opened(logbook_path, create=False) as logbook:
        known = logbook.bikes.find(bike_read(logbook_path, bike).bike.name)
        if known is None:
            raise RecordError(
                "The logbook has no ride of this bike yet.", "Add one with strandline ride add."
            )
        if route is not None and (rename is not None or retire):
            spelt = first_spelling(route, logbook.rides.all_rides(known.id))
            new = not_too_long(rename, "The new name") if rename is not None else f"{spelt}{RETIRED}"
            logbook.rides.rename_route(known.id, route, new, typed_by(None))
            route = new
        rides = logbook.rides.all_rides(known.id)
    routes: dict[str, list[int]] = {}
    shown: dict[str, str] = {}
    for ride in rides:
        if ride.entry.route and (route is None or fold(route) == fold(ride.entry.route)):
            shown.setdefault(fold(ride.entry.route), " ".join(ride.entry.route.split()))
            routes.setdefault(fold(ride.entry.route), []).append(ride.number)
    if as_json:
        found = [{"route": shown[key], "rides": numbers} for key, numbers in routes.items()]
        click.echo(json.dumps({"bike": known.name, "routes": found}))
        return
    for key, numbers in routes.items():
        click.echo(printable(f"{shown[key]}: {len(numbers)} ride{'' if len(numbers) == 1 else 's'}"))
    if not routes:
        click.echo("No ride of this bike names a route.")

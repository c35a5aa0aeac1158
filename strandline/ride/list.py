"""``strandline ride list``: the rides, one a line."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "list",
    epilog="Example: strandline ride list --bike grey-twin",
    short_help="List the rides.",
)
@click.option("--bike", metavar="BIKE", help="Only this bike's rides: its name, or its file.")
@click.option("--withdrawn", is_flag=True, help="Show withdrawn rides too.")
@units_option()
@logbook_option
@json_option
def command(bike: str | None, withdrawn: bool, units: str, logbook_path: Path | None, as_json: bool) -> None:
    """List the rides by date, with the settings and the stroke used of each leg."""
    from ridelog.errors import RecordError
    from strandline.facts.readings import bikes_then
    from strandline.ride.text import ride_fields
    from strandline.shared.storage import bike_path, quick_name
    from suspension.quantities.lengths import Units

    with opened(logbook_path, create=False) as logbook:
        wanted = None
        if bike is not None:
            found = logbook.bikes.find(bike) or logbook.bikes.find(
                quick_name(bike_path(logbook_path, bike)) or ""
            )
            if found is None:
                raise RecordError(
                    f"The logbook has no ride of {bike} yet.", "Add one with strandline ride add."
                )
            wanted = found.id
        rides = logbook.rides.all_rides(wanted, withdrawn=withdrawn)
        known = bikes_then(logbook, rides, wanted)
    if as_json:
        click.echo(
            json.dumps({"rides": [ride_fields(one, known[one.entry.bike_version_id]) for one in rides]})
        )
        return
    if not rides:
        click.echo("There is no ride yet. Record one with strandline ride add.")
        return
    from strandline.ride.table import show_rides

    show_rides(rides, known, Units(units))

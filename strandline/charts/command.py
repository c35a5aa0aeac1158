"""``strandline chart``: a bike's rides, settings and history as pictures."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import (
    bike_option,
    force_option,
    json_option,
    logbook_option,
    output_option,
    units_option,
)
from strandline.shared.storage import opened


@click.command(
    "chart",
    epilog="Example: strandline chart --bike grey-twin -o charts",
    short_help="Draw used stroke, settings by load, and history.",
)
@bike_option
@output_option("Folder for the pictures.", "charts", folder=True)
@click.option(
    "--format",
    "kinds",
    type=click.Choice(["svg", "png"]),
    multiple=True,
    help="Kind of picture. Left out: both.",
)
@force_option("pictures that are there already")
@units_option("in the charts", "")
@logbook_option
@json_option
def command(
    bike: str,
    output: Path,
    kinds: tuple[str, ...],
    force: bool,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Draw three charts for each end: stroke used by preload, the setting for each load, and ride by ride.

    The first also shows where the next ride should come out, the bumper and the hard stop.
    """
    from ridelog.errors import RecordError
    from strandline.advise.advice import whole_bike
    from strandline.charts.all_charts import charts
    from strandline.facts.rides import gather
    from strandline.shared.files import make_folder, write_new
    from strandline.shared.storage import bike_read
    from suspension.quantities.lengths import Units

    written, left_out = [], []
    with opened(logbook_path, create=False) as logbook:
        log = gather(logbook, bike_read(logbook_path, bike).bike)
        if not log.rides:
            raise RecordError(
                f"The logbook has no ride of {log.bike.name} yet.",
                "Ride with a marker on, and record it with strandline ride add.",
            )
        make_folder(output)
        for chart in charts(whole_bike(logbook, log), kinds or ("svg", "png"), Units(units)):
            if chart.why_not is not None:
                left_out.append({"chart": chart.name, "why": chart.why_not})
            for ending, content in chart.files:
                path = output / f"{chart.name}.{ending}"
                write_new(path, content, force=force, lasting=False)
                written.append(str(path))
    if as_json:
        click.echo(json.dumps({"bike": log.bike.name, "written": written, "left_out": left_out}))
        return
    for name in written:
        click.echo(f"{name}: written.")
    for one in left_out:
        click.echo(f"{one['chart']}: not drawn, {one['why']}.")

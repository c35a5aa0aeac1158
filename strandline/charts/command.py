"""``strandline chart``: pictures of what the logbook tells of a bike."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import UNITS
from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "chart",
    epilog="Example: strandline chart --bike grey-twin -o charts",
    short_help="Draw used stroke, settings by load, and history.",
)
@click.option("--bike", required=True, help="Its name, or its file.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("charts"),
    show_default=True,
    metavar="DIR",
    help="Folder for the pictures.",
)
@click.option(
    "--format",
    "kinds",
    type=click.Choice(["svg", "png"]),
    multiple=True,
    help="May be repeated; without it both.",
)
@click.option("--force", is_flag=True, help="Replace pictures that are there already.")
@click.option("--units", type=click.Choice(UNITS), default="mm", show_default=True, help="Of lengths.")
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
    """Draw three charts for each end: stroke used by preload, with the band that the model gives, the bumper and
    the stops; the setting for each load with the interval behind it; and ride by ride.
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
                write_new(path, content, force=force)
                written.append(str(path))
    if as_json:
        click.echo(json.dumps({"bike": log.bike.name, "written": written, "left_out": left_out}))
        return
    for name in written:
        click.echo(f"{name}: written.")
    for one in left_out:
        click.echo(f"{one['chart']}: not drawn, {one['why']}.")

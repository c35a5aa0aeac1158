"""``strandline pool show``: several owners' settings put together."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import Mass
from strandline.shared.options import end_option, force_option, json_option, output_option, units_option


@click.command(
    "show",
    epilog="Example: strandline pool show mine.csv theirs.csv --end rear -o charts",
    short_help="Combine several owners' settings.",
)
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option(
    "--kind", metavar="KIND", help="Only this kind of bike. Needed if the files hold several kinds."
)
@end_option
@click.option(
    "--bin",
    "bin_kg",
    type=Mass(min=1.0),
    default=20.0,
    show_default=True,
    metavar="KG",
    help="Axle loads that differ by less than this many kg are combined.",
)
@output_option("Draw charts into this folder. Left out: no file is written.", folder=True)
@force_option("charts that are there already")
@units_option("of loads", "JSON is always in kg.")
@json_option
def command(
    files: tuple[Path, ...],
    kind: str | None,
    end: str | None,
    bin_kg: float,
    output: Path | None,
    force: bool,
    units: str,
    as_json: bool,
) -> None:
    """Combine the settings in FILEs by load: the owners' mean, how much owners differ, and how far to trust it."""
    from strandline.charts.style import picture
    from strandline.pool.chart import pool_chart
    from strandline.pool.combine import pooled
    from strandline.pool.file import read_csv
    from strandline.pool.text import CAUTIONS, pool_fields, pool_lines
    from strandline.shared.files import make_folder, write_new
    from strandline.shared.messages import errors_as_messages
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    written = []
    with errors_as_messages():
        ends = pooled([row for path in files for row in read_csv(path)], kind, end, bin_kg)
        if output is not None:
            make_folder(output)
            for one in ends:
                figure = pool_chart(one, Units(units))
                for ending in ("svg", "png"):
                    path = output / f"{one.end.value}-owners.{ending}"
                    write_new(path, picture(figure, ending), force=force, lasting=False)
                    written.append(str(path))
    if as_json:
        cautions = [caution.value for caution in CAUTIONS]
        click.echo(
            json.dumps({"ends": [pool_fields(one) for one in ends], "cautions": cautions, "written": written})
        )
        return
    for one in ends:
        say_lines(*pool_lines(one, Units(units)))
    for caution in CAUTIONS:
        say_lines(caution.value)
    for name in written:
        click.echo(f"{name}: written.")

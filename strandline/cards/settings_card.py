"""``strandline card-of-settings``: one printed page for the garage wall."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import UNITS
from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "card-of-settings",
    epilog="Example: strandline card-of-settings --bike grey-twin -o settings.pdf",
    short_help="Print the settings by load, one page for the wall.",
)
@click.option("--bike", required=True, help="Its name, or its file.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("settings.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="What is in the printer.",
)
@click.option("--force", is_flag=True, help="Replace the PDF if it is there already.")
@click.option(
    "--units", type=click.Choice(UNITS), default="mm", show_default=True, help="in: pounds and psi too."
)
@logbook_option
@json_option
def command(
    bike: str,
    output: Path,
    paper: str,
    force: bool,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Draw one page: what to set for each load, what that rests on, tyres, lengths, how to count again, cautions."""
    import dataclasses
    import datetime as dt

    from calibration.sheet_layout import PAPERS
    from ridelog.errors import RecordError
    from strandline.advise.advice import whole_bike
    from strandline.cards.settings_page import rows, wall_card
    from strandline.facts.rides import gather
    from strandline.shared.files import write_new
    from strandline.shared.storage import bike_read
    from suspension.quantities.lengths import Units

    with opened(logbook_path, create=False) as logbook:
        log = gather(logbook, bike_read(logbook_path, bike).bike)
        ends = whole_bike(logbook, log)
        found = tuple(rows(ends, log.bike, Units(units)))
        if not found:
            raise RecordError(
                f"There is no load case of {log.bike.name} to print a setting for.",
                "Record a ride with strandline ride add, or a load with strandline loads.",
            )
        page = wall_card(ends, log.bike, dt.date.today(), PAPERS[paper.lower()], Units(units))
        write_new(output, page, force=force)
    if as_json:
        click.echo(json.dumps({"file": str(output), "rows": [dataclasses.asdict(row) for row in found]}))
    else:
        click.echo(f"{output}: {len(found)} {'load' if len(found) == 1 else 'loads'} on one page.")

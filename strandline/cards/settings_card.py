"""``strandline card-of-settings``: one printed page for the garage wall."""

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
    paper_option,
    units_option,
)
from strandline.shared.storage import opened


@click.command(
    "card-of-settings",
    epilog="Example: strandline card-of-settings --bike grey-twin -o settings.pdf",
    short_help="Print the settings by load, one page for the wall.",
)
@bike_option
@output_option("The PDF to write.", "settings.pdf")
@paper_option()
@force_option("a PDF that is there already")
@units_option("on the page", "")
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
    """Draw one page: the settings for each load and how sure they are, tyres, lengths, how to count again, cautions."""
    import dataclasses

    from calibration.sheet_layout import PAPERS
    from ridelog.errors import RecordError
    from strandline.advise.advice import whole_bike
    from strandline.cards.settings_page import rows, wall_card
    from strandline.facts.rides import gather
    from strandline.shared.files import write_new
    from strandline.shared.parse import day_or_none
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
        page = wall_card(ends, log.bike, day_or_none(), PAPERS[paper.lower()], Units(units))
        write_new(output, page, force=force)
    if as_json:
        click.echo(json.dumps({"file": str(output), "rows": [dataclasses.asdict(row) for row in found]}))
    else:
        click.echo(f"{output}: {len(found)} {'load' if len(found) == 1 else 'loads'} on one page.")

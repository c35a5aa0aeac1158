"""``strandline pool export``: one's own settings, for others."""

from __future__ import annotations

import json
import secrets
from pathlib import Path

import click

from strandline.shared.options import bike_option, force_option, json_option, logbook_option, output_option
from strandline.shared.storage import opened


@click.command(
    "export",
    epilog="Example: strandline pool export --bike grey-twin --kind 'Twin 500, first series' -o mine.csv",
    short_help="Write your settings as CSV, without anything personal.",
)
@bike_option
@click.option(
    "--kind",
    required=True,
    metavar="KIND",
    help="The kind of bike, as its owners agree to call it. Your own name for your bike is not written.",
)
@output_option("The CSV file to write.", "settings.csv")
@click.option(
    "--for-spreadsheet",
    is_flag=True,
    help="Put an apostrophe before texts that a spreadsheet would run as formulas.",
)
@click.option(
    "--same-label",
    is_flag=True,
    help="Mark the rows as in every file that you export so: whoever has two of them sees that they are one owner's.",
)
@force_option("a file that is there already")
@logbook_option
@json_option
def command(
    bike: str,
    kind: str,
    output: Path,
    for_spreadsheet: bool,
    same_label: bool,
    force: bool,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Write the settings you found: one for each load that you rode and whose axle load is known, no predictions.

    The owner is a random label, another one in each file: give a pool your newest file only, or use --same-label.
    """
    from ridelog.errors import RecordError
    from strandline.advise.advice import whole_bike
    from strandline.facts.rides import gather
    from strandline.pool.file import PoolRow, own_rows, owner_label, to_csv
    from strandline.shared.files import write_new
    from strandline.shared.messages import printable
    from strandline.shared.storage import bike_read

    with opened(logbook_path, create=False) as logbook:
        if not kind.strip():
            raise RecordError("The kind of bike is empty.", "Say, for example, --kind 'Twin 500'.")
        log = gather(logbook, bike_read(logbook_path, bike).bike)
        known = logbook.bikes.find(log.bike.name)
        owner = None if known is None else owner_label(known.id, "" if same_label else secrets.token_hex(16))
        found = [] if owner is None else list(own_rows(whole_bike(logbook, log), owner, kind.strip()))
        rows = [one for one in found if isinstance(one, PoolRow)]
        left_out = [one for one in found if isinstance(one, str)]
        if not rows:
            raise RecordError(
                " ".join([f"There is no setting of {log.bike.name} to export.", *left_out]),
                "Record rides with a marker, and say what the bike carried with strandline loads.",
            )
        write_new(output, to_csv(rows, for_spreadsheet=for_spreadsheet).encode("utf-8"), force=force)
    if as_json:
        click.echo(json.dumps({"file": str(output), "rows": len(rows), "left_out": left_out}))
        return
    click.echo(f"{output}: {len(rows)} {'setting' if len(rows) == 1 else 'settings'}, nothing personal.")
    for line in left_out:
        click.echo(printable(line))

"""``strandline logbook export``: all of it as one JSON file, or as a folder of CSV files."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import FormerArgument
from strandline.shared.options import force_option, json_option, logbook_option, named_output, output_option
from strandline.shared.storage import opened


@click.command(
    "export",
    epilog="Example: strandline logbook export -o season.json",
    short_help="Write everything as JSON or CSV.",
)
@output_option("The JSON file, or the folder for CSV files.")
@click.argument("former", cls=FormerArgument, type=click.Path(path_type=Path), required=False)
@click.option(
    "--format",
    "kind",
    type=click.Choice(["json", "csv"]),
    default="json",
    show_default=True,
    help="One JSON file, or a folder with one CSV file for each table.",
)
@click.option(
    "--for-spreadsheet",
    is_flag=True,
    help="Put an apostrophe before texts that a spreadsheet would run as formulas; with --format csv. Such files "
    "cannot be imported.",
)
@force_option("what is there already")
@logbook_option
@json_option
def command(
    output: Path | None,
    former: Path | None,
    kind: str,
    for_spreadsheet: bool,
    force: bool,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Write everything in the logbook, corrections included, as JSON or CSV.

    strandline logbook import reads it back without loss.
    """
    from ridelog.errors import TransferError
    from ridelog.transfer.as_csv import to_csv
    from ridelog.transfer.as_json import to_json
    from ridelog.transfer.transfer import export
    from strandline import __version__
    from strandline.shared.files import make_folder, write_new

    if for_spreadsheet and kind != "csv":
        raise click.UsageError("--for-spreadsheet goes with --format csv.")
    target = named_output(output, former)
    with opened(logbook_path, create=False) as logbook:
        document = export(logbook)
        if kind == "json":
            write_new(target, to_json(document, __version__).encode("utf-8"), force=force, private=True)
        else:
            make_folder(target)
            files = to_csv(document, __version__, for_spreadsheet=for_spreadsheet)
            there = sorted(name for name in files if (target / name).exists())
            if there and not force:
                raise TransferError(
                    f"{target} holds {', '.join(there)} already.", "Add --force to replace them."
                )
            for name, text in files.items():
                write_new(target / name, text.encode("utf-8"), force=force, private=True)
    rows = sum(len(rows) for rows in document.tables.values())
    if as_json:
        click.echo(json.dumps({"target": str(target), "format": kind, "rows": rows}))
    else:
        click.echo(f"{target}: {rows} rows, {len(document.tables['ride'])} rides.")

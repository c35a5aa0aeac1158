"""``strandline logbook export``: all of it as one JSON file, or as a folder of CSV files."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "export",
    epilog="Example: strandline logbook export season.json  or  strandline logbook export season --format csv",
    short_help="Write all of it as JSON or CSV.",
)
@click.argument("target", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "kind",
    type=click.Choice(["json", "csv"]),
    default="json",
    show_default=True,
    help="One JSON file, or a folder with one CSV file for each table.",
)
@click.option("--force", is_flag=True, help="Replace what is there already.")
@logbook_option
@json_option
def command(target: Path, kind: str, force: bool, logbook_path: Path | None, as_json: bool) -> None:
    """Write all that the logbook holds to TARGET, corrections and corrected rows alike.

    Nothing is lost on the way out and in again.
    """
    from ridelog.errors import TransferError
    from ridelog.transfer.as_csv import to_csv
    from ridelog.transfer.as_json import to_json
    from ridelog.transfer.transfer import export
    from strandline import __version__
    from strandline.shared.files import make_folder, write_new

    with opened(logbook_path, create=False) as logbook:
        document = export(logbook)
        if kind == "json":
            write_new(target, to_json(document, __version__).encode("utf-8"), force=force)
        else:
            make_folder(target)
            files = to_csv(document, __version__)
            there = sorted(name for name in files if (target / name).exists())
            if there and not force:
                raise TransferError(
                    f"{target} holds {', '.join(there)} already.", "Add --force to replace them."
                )
            for name, text in files.items():
                write_new(target / name, text.encode("utf-8"), force=force)
    rows = sum(len(rows) for rows in document.tables.values())
    if as_json:
        click.echo(json.dumps({"target": str(target), "format": kind, "rows": rows}))
    else:
        click.echo(f"{target}: {rows} rows, {len(document.tables['ride'])} rides.")

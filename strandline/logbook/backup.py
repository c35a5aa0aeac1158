"""``strandline logbook backup``: a copy that is whole, also while the logbook is in use."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import FormerArgument
from strandline.shared.options import force_option, json_option, logbook_option, named_output, output_option
from strandline.shared.storage import opened


@click.command(
    "backup",
    epilog="Example: strandline logbook backup -o /media/stick/logbook-2026.sqlite",
    short_help="Copy it to a file, also while it is in use.",
)
@output_option("The file to write.")
@click.argument("former", cls=FormerArgument, type=click.Path(path_type=Path), required=False)
@force_option("a file that is there already")
@logbook_option
@json_option
def command(
    output: Path | None, former: Path | None, force: bool, logbook_path: Path | None, as_json: bool
) -> None:
    """Copy the logbook to a file, also while it is in use, and check the copy.

    The copy is itself a logbook: use it with --logbook. The bikes' files, as they were at each ride, are in it.
    """
    from ridelog.storage.backup import write_copy

    target = named_output(output, former)
    with opened(logbook_path, create=False) as logbook:
        write_copy(logbook.connection, target, force=force)
    click.echo(json.dumps({"target": str(target)}) if as_json else f"{target}: copied and checked.")

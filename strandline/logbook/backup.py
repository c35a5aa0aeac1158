"""``strandline logbook backup``: a copy that is whole, also while the logbook is in use."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "backup",
    epilog="Example: strandline logbook backup /media/stick/logbook-2026.sqlite",
    short_help="Copy it to a file, also while it is in use.",
)
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace a file that is there already.")
@logbook_option
@json_option
def command(target: Path, force: bool, logbook_path: Path | None, as_json: bool) -> None:
    """Copy the logbook to TARGET, and check the copy before it gets its name.

    The copy is a logbook itself: use it with --logbook. The bikes' files lie in it too, as each ride found them.
    """
    from ridelog.storage.backup import write_copy

    with opened(logbook_path, create=False) as logbook:
        write_copy(logbook.connection, target, force=force)
    click.echo(json.dumps({"target": str(target)}) if as_json else f"{target}: copied and checked.")

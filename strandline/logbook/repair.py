"""``strandline logbook repair``: a sound copy of a logbook in which something cannot be used."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import force_option, json_option, logbook_option, named_output, output_option
from strandline.shared.storage import opened


@click.command(
    "repair",
    epilog="Example: strandline logbook repair -o sound.sqlite",
    short_help="Write a sound copy, and list what it leaves out.",
)
@output_option("The file to write.")
@force_option("a file that is there already")
@logbook_option
@json_option
def command(output: Path | None, force: bool, logbook_path: Path | None, as_json: bool) -> None:
    """Write a copy of the logbook without the rows that cannot be read, and list these.

    The logbook itself is left as it is. Use the copy with --logbook once you have looked at the list.
    """
    from ridelog.transfer.repair import repair
    from strandline.shared.messages import printable, some

    target = named_output(output, None)
    with opened(logbook_path, create=False) as logbook:
        done = repair(logbook, target, force=force)
    if as_json:
        click.echo(
            json.dumps(
                {
                    "target": str(target),
                    "rows": done.kept,
                    "left_out": list(done.left_out),
                    "changed": list(done.changed),
                    "remaining": list(done.remaining),
                }
            )
        )
        return
    for title, lines in (
        ("left out", done.left_out),
        ("changed", done.changed),
        ("still found", done.remaining),
    ):
        for line in lines:
            click.echo(printable(f"{title}: {' '.join(line.split())}"))
    click.echo(printable(f"{target}: {some(done.kept, 'row')} kept, {len(done.left_out)} left out."))

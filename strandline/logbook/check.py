"""``strandline logbook check``: is it sound?"""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import json_option, logbook_option
from strandline.shared.storage import opened


@click.command(
    "check",
    epilog="Example: strandline logbook check",
    short_help="Check the file for errors.",
)
@logbook_option
@json_option
@click.pass_context
def command(ctx: click.Context, logbook_path: Path | None, as_json: bool) -> None:
    """Check the whole file: the database, its tables, and that their rows fit together.

    Exit status: 0 no error was found; 1 errors were found, or the file cannot be opened; 2 wrong usage.
    """
    from ridelog.storage.check import check
    from strandline.shared.messages import printable, some

    with opened(logbook_path, create=False) as logbook:
        report = check(logbook)
        path = logbook.path
    if as_json:
        findings = [{"check": one.check, "what": one.what} for one in report.findings]
        click.echo(
            json.dumps(
                {
                    "sound": report.sound,
                    "schema_version": report.version,
                    "rows": report.rows,
                    "findings": findings,
                }
            )
        )
    elif report.sound:
        click.echo(
            f"{path}: no errors, {some(report.rows['ride'], 'ride')}, {some(report.rows['reading'], 'reading')}."
        )
    else:
        for one in report.findings:
            click.echo(printable(f"{one.check}: {one.what}"))
        click.echo(
            "Leave the file as it is: go on with your latest backup, or with what strandline logbook repair writes."
        )
    if not report.sound:
        ctx.exit(1)

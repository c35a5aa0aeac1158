"""``strandline logbook check``: is it sound?"""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "check",
    epilog="Example: strandline logbook check",
    short_help="See whether it is sound.",
)
@logbook_option
@json_option
@click.pass_context
def command(ctx: click.Context, logbook_path: Path | None, as_json: bool) -> None:
    """Look through the whole file: the database, its schema, and what must hold between its rows.

    Exit status: 0 all is well; 1 something was found, or it cannot be opened; 2 wrong usage.
    """
    from ridelog.storage.check import check
    from strandline.shared.messages import printable

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
        click.echo(f"{path}: sound, {report.rows['ride']} rides, {report.rows['reading']} readings.")
    else:
        for one in report.findings:
            click.echo(printable(f"{one.check}: {one.what}"))
        click.echo("Keep the file as it is, and go on from your latest backup.")
    if not report.sound:
        ctx.exit(1)

"""``strandline day FOLDER``: read a day's photos, resumed where it was left."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import STATES

if TYPE_CHECKING:
    from strandline.day.results.results import DayResults


@click.command(
    "run",
    epilog="Example: strandline day spring-day --print-scale 0.998 --state on-wheels",
    short_help="Read a day's folder; what “strandline day FOLDER” does.",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Of the results; FOLDER/results.")
@click.option("--roster", type=click.Path(path_type=Path), metavar="CSV", help="FOLDER/roster.csv.")
@click.option(
    "--print-scale", metavar="RATIO", help="Of the day's cards, where the roster does not show; see read."
)
@click.option(
    "--state",
    type=click.Choice(STATES, case_sensitive=False),
    help="How the bikes stood in the photos, where the roster does not show.",
)
@click.option("--watch", is_flag=True, help="Go on: read photos as they appear, until Ctrl-C.")
@click.option("--workers", type=click.IntRange(1, 512), metavar="N", help="Processes; one a core.")
@click.option(
    "--seconds",
    type=click.FloatRange(1, 3600),
    default=60,
    show_default=True,
    help="Limit of time for a photo.",
)
@click.option(
    "--memory",
    type=click.IntRange(0, 1_000_000),
    default=6000,
    show_default=True,
    help="Limit of a worker's address space, MB, where the system has one; 0 for none.",
)
@click.option("--retry", is_flag=True, help="Try once more what a limit stopped.")
@click.option("--cluster", metavar="ADDRESS", help="Read on a dask.distributed cluster (extra “cluster”).")
@click.option(
    "--send", is_flag=True, help="With --cluster: send photos along; its workers do not see the folder."
)
@click.option(
    "--logbook",
    "logbook_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Record the readings that count in this logbook, each once.",
)
@click.option(
    "--quiet", is_flag=True, help="No progress and no summary; so it is in a pipe, for the progress."
)
@click.option("--json", "as_json", is_flag=True, help="Answer with one JSON object a line, as in day.jsonl.")
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    logbook_path: Path | None,
    watch: bool,
    quiet: bool,
    as_json: bool,
    seconds: float,
    memory: int,
    **options: object,
) -> None:
    """Read all photos below FOLDER, and write day.html, sheets.html, CSV and JSON lines into its results.

    The card in a photo tells the entrant by the roster; clip-on tags show the leg, and before or after. What
    stays unclear goes to the exceptions, never to a guess. Ended at any moment and started again, it reads only
    what is left.

    Exit status: 0 every photo was read; 1 there are exceptions, or it could not be done; 2 wrong usage.
    """
    from strandline.day.errors import DayError
    from strandline.day.pipeline import DayRequest, run_day, watch_day
    from strandline.day.reading.pool import Limits
    from strandline.day.reading.progress import progress
    from strandline.shared.messages import errors_as_messages, printable

    if options["send"] and options["cluster"] is None:
        raise click.BadParameter("There is nowhere to send photos without --cluster.", param_hint="--send")
    if watch and (logbook_path is not None or as_json):
        raise click.BadParameter(
            "Record and print when the day is over, without --watch.", param_hint="--watch"
        )
    request = DayRequest(folder, limits=Limits(seconds, memory), **options)  # type: ignore[arg-type]
    try:
        with errors_as_messages(), progress(quiet=quiet or as_json) as show:
            if watch:
                try:
                    watch_day(
                        request, show, _print_summary, lambda text: click.echo(printable(text), err=True)
                    )
                except KeyboardInterrupt:
                    click.echo("Ended; the page is up to date.", err=True)
                return
            results = run_day(request, show)
            if logbook_path is not None:
                from strandline.day.output.to_logbook import to_logbook

                recorded = to_logbook(results, request.roster_path, logbook_path)
                if not quiet:
                    click.echo(f"{recorded} readings are new in {logbook_path}.", err=True)
    except DayError as error:
        lines = str(error).split("\n")
        raise click.ClickException("\n".join(printable(line) for line in lines)) from error
    except KeyboardInterrupt:
        click.echo("Stopped. What was read is kept: start again to go on.", err=True)
        ctx.exit(130)
    if as_json:
        from strandline.day.output.tables import json_lines

        click.echo(json_lines(results), nl=False)
    elif not quiet:
        _print_summary(results)
        click.echo(f"{request.day.out / 'day.html'}")
    if results.exceptions:
        ctx.exit(1)


def _print_summary(results: DayResults) -> None:
    from collections import Counter

    from strandline.day.output.text import heading

    click.echo(
        f"{results.photos} photos, {results.read} read, {len(results.exceptions)} exceptions, "
        f"{len(results.bikes)} bikes."
    )
    for code, count in Counter(one.code for one in results.exceptions).most_common():
        click.echo(f"  {count} × {heading(code)}")

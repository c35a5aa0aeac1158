"""``strandline day FOLDER``: read a day's photos, resumed where an earlier run stopped."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strandline.shared.option_kinds import Seconds, WholeNumber, WithAdvanced
from strandline.shared.options import output_option, units_option
from strandline.shared.photo_options import STATES

if TYPE_CHECKING:
    from strandline.day.pipeline import DayRequest
    from strandline.day.results.results import DayResults


@click.command(
    "run",
    epilog="Example: strandline day spring-day --print-scale 0.998 --state on-wheels",
    short_help="Read a day's folder; what “strandline day FOLDER” does.",
    cls=WithAdvanced,
    advanced=("workers", "seconds", "memory", "retry", "cluster", "send", "quiet", "as_json"),
)
@click.argument("folder", type=click.Path(path_type=Path))
@output_option("Folder for the results. Left out: FOLDER/results.", folder=True, former=("--out",))
@click.option(
    "--roster",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The list of cards and entrants, CSV. Left out: FOLDER/roster.csv.",
)
@click.option(
    "--print-scale",
    metavar="RATIO",
    help="Length of the cards' printed 100 mm bars over 100 mm: 0.985, 98.5%. A print scale in the roster comes before "
    "this. Left out: the cards count as not measured, and readings are less accurate.",
)
@click.option(
    "--state",
    type=click.Choice(STATES, case_sensitive=False),
    help="How the bikes stood in the photos. A state in the roster comes before this.",
)
@units_option("of the page and the entrants' sheets", "CSV and JSON are always in mm.")
@click.option("--watch", is_flag=True, help="Keep running and read photos as they arrive, until Ctrl-C.")
@click.option(
    "--workers", type=WholeNumber(1, 512), metavar="N", help="Photos read at a time. Left out: one per core."
)
@click.option(
    "--seconds",
    type=Seconds(1, 3600),
    metavar="SECONDS",
    default=60,
    show_default=True,
    help="Give up on a photo after this time.",
)
@click.option(
    "--memory",
    type=WholeNumber(0, 1_000_000),
    metavar="MB",
    default=6000,
    show_default=True,
    help="Memory (address space) that reading one photo may use; 0 for no limit. Not on every system.",
)
@click.option("--retry", is_flag=True, help="Try again the photos that took too long or too much memory.")
@click.option(
    "--cluster", metavar="ADDRESS", help="Read on a dask.distributed cluster (install strandline[cluster])."
)
@click.option(
    "--cluster-tls",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="With --cluster: encrypt, with ca.pem, cert.pem and key.pem in FOLDER (docs/cluster.md).",
)
@click.option(
    "--send", is_flag=True, help="With --cluster: send the photos to machines that do not see FOLDER."
)
@click.option(
    "--logbook",
    "logbook_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also record the readings in this logbook. Each is recorded once, however often you run this.",
)
@click.option("--quiet", is_flag=True, help="Show neither progress nor summary.")
@click.option(
    "--json", "as_json", is_flag=True, help="Answer with one JSON object per line, the content of day.jsonl."
)
def command(
    folder: Path,
    output: Path | None,
    logbook_path: Path | None,
    watch: bool,
    quiet: bool,
    as_json: bool,
    seconds: float,
    memory: int,
    **options: Any,
) -> None:
    """Read all photos in FOLDER and write day.html, sheets.html, CSV tables and JSON lines into FOLDER/results.

    The card in a photo says whose bike it is, by the roster; a clip-on tag on the card says which leg, and before
    or after the ride. The photo's name or its folder may say so instead. Photos for which this stays unclear are
    listed as exceptions; nothing is guessed.

    Run it as often as you like: only new photos are read, also after a run that was stopped.

    Exit status: 0 every photo was read; 1 there are exceptions, or something failed; 2 wrong usage.
    """
    from strandline.day.errors import DayError
    from strandline.day.pipeline import DayRequest
    from strandline.read.parse import parse_photo_options
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.worker import Limits
    from suspension.quantities.lengths import Units

    if options["send"] and options["cluster"] is None:
        raise click.BadParameter("Photos can only be sent to a cluster: add --cluster.", param_hint="--send")
    if options["cluster_tls"] is not None and options["cluster"] is None:
        raise click.BadParameter("Certificates are for a cluster: add --cluster.", param_hint="--cluster-tls")
    if options["cluster"] is not None and options["cluster_tls"] is None:
        click.echo(
            "Note: without --cluster-tls, whoever reaches the cluster's network can read names and photos on the way, "
            "and run programs on its machines.",
            err=True,
        )
    if watch and (logbook_path is not None or as_json):
        raise click.BadParameter(
            "While watching, neither --logbook nor --json is possible: run once more without --watch when the day "
            "is over.",
            param_hint="--watch",
        )
    parse_photo_options(options["print_scale"], None)
    units = Units(options.pop("units"))
    request = DayRequest(folder, output, limits=Limits(seconds, memory), units=units, **options)
    try:
        with errors_as_messages():
            if watch:
                _watch(request, quiet=quiet)
                return
            results = _run(request, logbook_path, quiet=quiet, as_json=as_json)
    except DayError as error:
        lines = str(error).split("\n")
        raise click.ClickException("\n".join(printable(line) for line in lines)) from error
    except KeyboardInterrupt:
        click.echo("Stopped. What was read is kept: run it again to go on.", err=True)
        click.get_current_context().exit(130)
    if results.exceptions:
        click.get_current_context().exit(1)


def _watch(request: DayRequest, *, quiet: bool) -> None:
    from strandline.day.output.summary import counts_line
    from strandline.day.output.write_all import PAGE
    from strandline.day.pipeline import watch_day
    from strandline.day.reading.status_line import status_line
    from strandline.shared.messages import printable

    page = request.day.out / PAGE
    if not quiet:
        click.echo(
            printable(f"Watching {request.folder}. Ctrl-C ends.\nPage, which loads itself anew: {page}")
        )
    with status_line(quiet=quiet) as status:
        try:
            watch_day(
                request,
                status.reading,
                lambda results: status.show(counts_line(results)),
                lambda text: status.say(printable(text)),
            )
        except KeyboardInterrupt:
            status.say("Stopped watching; day.html is up to date.")


def _run(request: DayRequest, logbook_path: Path | None, *, quiet: bool, as_json: bool) -> DayResults:
    from strandline.day.pipeline import run_day
    from strandline.day.reading.progress import progress
    from strandline.shared.messages import printable

    with progress(quiet=quiet or as_json) as show:
        results = run_day(request, show)
    if logbook_path is not None:
        from strandline.day.output.to_logbook import to_logbook, without_file

        recorded = to_logbook(results, request.roster_path, logbook_path)
        if not quiet:
            click.echo(f"{_counted(recorded, 'new reading')} recorded in {logbook_path}.", err=True)
            left_out = without_file(results)
            if left_out:
                said = f"Not recorded, for a ride needs a bike's file: {', '.join(left_out)}."
                click.echo(printable(said), err=True)
    if as_json:
        from strandline.day.output.tables import json_lines

        click.echo(json_lines(results), nl=False)
    elif not quiet:
        from strandline.day.output.summary import summary
        from strandline.day.output.write_all import PAGE

        for line in summary(results, request.day.out / PAGE, request.units):
            click.echo(printable(line))
    return results


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}{'' if count == 1 else 's'}"

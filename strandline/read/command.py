"""``strandline read``: the lengths on a shaft from photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import force_option, logbook_option, output_option
from strandline.shared.photo_options import read_options
from strandline.shared.ride_options import ride_options_of_read

if TYPE_CHECKING:
    from strandline.read.inputs import ReadInputs
    from strandline.read.of_bike import OfBike
    from strandline.read.one_photo import Outcome
    from strandline.read.overlays import OverlayWriter
    from strandline.read.several import Together
    from strandline.read.show import Show


@click.command(
    epilog="Example: strandline read IMG_1.jpg --shaft 41.02mm --layout fork --print-scale 0.985 "
    "--extended 205mm --stroke 120mm -o drawn",
    short_help="Read the lengths on a shaft from photos.",
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True)
@click.option(
    "--bike",
    metavar="BIKE",
    help="Take shaft, layout, marker and lengths from this bike's file, instead of --shaft and so on. Left out "
    "without --shaft and --layout: the only bike.",
)
@click.option(
    "--leg", metavar="LEG", help="The leg in the photo: front-left. Left out: the only one possible."
)
@click.option("--record", "records", is_flag=True, help="Record a ride with it, and say what to change next.")
@ride_options_of_read
@read_options
@click.option(
    "--rims",
    metavar="POINTS",
    help="For one photo in which the program does not find the shaft: its edges set by hand, as points x,y in "
    "pixels of the upright photo, with semicolons between several points of one edge: "
    "'seal=812,433 marker=815,902;840,904 far=820,1400'.",
)
@click.option(
    "--edges",
    metavar="LINES",
    help="With --rims: one or two lines along the shaft's edges, each of two or more points, so that its diameter "
    "gives the scale, too: '790,500;795,1300 840,500;846,1300'.",
)
@click.option(
    "--hand-error",
    metavar="PX",
    help="With --rims: how far off a point set by hand may be, in pixels (one standard deviation); 1.5 if left out.",
)
@click.option(
    "--explain",
    is_flag=True,
    help="Show where each ± comes from, source by source, and what would halve it.",
)
@click.option(
    "--same",
    is_flag=True,
    help="All photos show one shaft that nobody touched in between: compare them, say whether the marker moved, "
    "and combine their lengths.",
)
@click.option("--json", "as_json", is_flag=True, help="One line with a JSON object for each photo, in mm.")
@click.option("--curves", is_flag=True, help="With --json: also the curves of the edges, in px.")
@output_option(
    "Write each photo with its reading drawn on it into this folder. Left out: no file is written.",
    folder=True,
    former=("--overlay",),
)
@force_option("pictures that are there already")
@logbook_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    photos: tuple[str, ...],
    bike: str | None,
    leg: str | None,
    records: bool,
    settings: tuple[str, ...],
    route: str | None,
    load: str | None,
    date: str | None,
    felt: tuple[str, ...],
    logbook_path: Path | None,
    rims: str | None,
    edges: str | None,
    hand_error: str | None,
    explain: bool,
    same: bool,
    as_json: bool,
    curves: bool,
    output: Path | None,
    force: bool,
    **options: str | None,
) -> None:
    """Read how far the shaft went in: the marker's place, what is left, and the stroke used.

    What the shaft is comes from a bike's file (--bike) or is typed (--shaft, --layout). With --record the photo
    becomes a ride of the day on which it was taken, and the new advice is shown.

    Each PHOTO shows one shaft with the printed card beside it, the card's arrow towards the seal. All photos must
    show shafts of the same diameter and layout. For the words, see strandline help terms.

    Exit status: 0 every photo was read, at least in part; 1 a photo was not read, photos could not be combined, or
    a picture could not be written; 2 wrong usage; 130 stopped with Ctrl-C.
    """
    from strandline.read.parse import ReadOptions, parse_options
    from strandline.read.record import asked_setting, check_ride, is_dialogue, record, wants_recording
    from strandline.read.show import Show

    wanted = _each_once(photos)
    of_ride = {"--setting": settings, "--route": route, "--load": load, "--date": date, "--felt": felt}
    _refuse_without(rims, same, force, output, wanted)
    for option, value in of_ride.items():
        if value and not records:
            raise click.BadParameter("It is of a ride: add --record.", param_hint=option)
    if curves and not as_json:
        raise click.BadParameter("The curves are numbers for programs: add --json.", param_hint="--curves")
    typed = options["shaft"] is not None or options["layout"] is not None
    known = None
    if bike is None and typed:
        if leg is not None or records:
            raise click.UsageError(
                "--leg and --record need a bike: add --bike, without --shaft and --layout."
            )
        for option in ("shaft", "layout"):
            if options[option] is None:
                raise click.UsageError(f"Missing option '--{option}': give it, or --bike.")
        inputs = parse_options(ReadOptions(rims=rims, edges=edges, hand_error=hand_error, **options))  # type: ignore[arg-type]
    else:
        known = _of_bike(ctx, bike, leg, options)
        inputs = known.inputs
        check_ride(known.bike, settings, date)
    dialogue = known is not None and len(wanted) == 1 and is_dialogue(as_json)
    show = Show(as_json, explain, curves, brief=records or dialogue)
    outcomes, trouble = _read_all(ctx, wanted, inputs, show, _writer(output, wanted, inputs, force))
    together = _together(outcomes, inputs) if same else None
    show.end(outcomes, together, inputs, from_file=known is not None)
    refused = any(one.refused for one in outcomes)
    if known is not None and not refused and (records or (dialogue and wants_recording(outcomes))):
        setting = None
        if dialogue and not settings:
            setting = asked_setting(logbook_path, known.bike, known.leg)
        record(ctx, known.leg.name.value, dict(zip(wanted, outcomes, strict=True)), setting)
    elif dialogue and not records:
        show.rest(outcomes[0], inputs)
    if trouble or refused or (same and (together is None or together.outcome.refused)):
        ctx.exit(1)


def _refuse_without(
    rims: str | None, same: bool, force: bool, output: Path | None, wanted: list[str]
) -> None:
    """Refuse options that mean nothing without others."""
    if rims is not None and len(wanted) > 1:
        raise click.BadParameter(
            "Edges set by hand belong to one photo: give one PHOTO at a time.", param_hint="--rims"
        )
    if same and len(wanted) < 2:
        raise click.BadParameter("At least two photos of the shaft are needed.", param_hint="--same")
    if force and output is None:
        raise click.BadParameter("There is nothing to replace without -o DIR.", param_hint="--force")


def _of_bike(ctx: click.Context, bike: str | None, leg: str | None, options: dict[str, str | None]) -> OfBike:
    """Take the shaft from a bike's file, and say of which leg."""
    from dataclasses import replace

    from strandline.read.of_bike import from_bike
    from strandline.read.parse import parsed_marks
    from strandline.read.record import is_dialogue
    from strandline.shared.messages import printable

    ask = is_dialogue(ctx.params["as_json"])
    known = from_bike(ctx.params["logbook_path"], bike or "", leg, options, ask=ask)
    click.echo(f"Read as {known.leg.name.value} of {printable(known.bike.name)}{known.why}.", err=True)
    marks = parsed_marks(*(ctx.params[name] for name in ("rims", "edges", "hand_error")))
    return replace(known, inputs=replace(known.inputs, marks=marks))


def _read_all(
    ctx: click.Context,
    wanted: list[str],
    inputs: ReadInputs,
    show: Show,
    drawing: tuple[OverlayWriter | None, bool],
) -> tuple[list[Outcome], bool]:
    """Read and show one photo after the other; with Ctrl-C those before stay shown, and their pictures written."""
    from strandline.read.apart import ReadJob, read_jobs
    from strandline.shared.console import short_names
    from strandline.shared.messages import errors_as_messages
    from strandline.shared.settings import kept_scales

    writer, trouble = drawing
    with errors_as_messages():
        scales = kept_scales()
    outcomes: list[Outcome] = []
    answers = read_jobs([ReadJob(name, inputs, writer, scales) for name in wanted])
    try:
        for answer, short in zip(answers, short_names(wanted), strict=True):
            if answer.trouble:
                click.echo(answer.trouble, err=True)
                trouble = True
            outcomes.append(answer.outcome)
            show.photo(answer.outcome, short, inputs)
    except KeyboardInterrupt:
        done = f"Stopped after {len(outcomes)} of {len(wanted)} photos"
        kept = "what was read stands above" if outcomes else "nothing was read"
        recorded = ", and nothing was recorded" if ctx.params["records"] else ""
        click.echo(f"\n{done}: {kept}{recorded}.", err=True)
        ctx.exit(130)
    return outcomes, trouble


def _together(outcomes: list[Outcome], inputs: ReadInputs) -> Together | None:
    """Combine the photos; None, with a message, if that is not possible."""
    from strandline.read.several import put_together
    from strandline.shared.messages import ROOM_ERRORS, error_text

    try:
        return put_together(outcomes, inputs)
    except ROOM_ERRORS as error:
        click.echo(error_text(error), err=True)
        return None


def _each_once(photos: tuple[str, ...]) -> list[str]:
    """Drop photos that are named twice, and say so."""
    from strandline.shared.messages import printable

    wanted: dict[Path, str] = {}
    for name in photos:
        try:
            place = Path(name).resolve()
        except (
            OSError,
            ValueError,
            RuntimeError,
        ):  # a loop of links, a null character: reported when it is read
            place = Path(name)
        if place in wanted:
            click.echo(
                printable(f"{name} is the same file as {wanted[place]}: it is read only once."), err=True
            )
        else:
            wanted[place] = name
    return list(wanted.values())


def _writer(
    folder: Path | None, photos: list[str], inputs: ReadInputs, force: bool
) -> tuple[OverlayWriter | None, bool]:
    """Who writes the overlays (None: nobody), and whether that is because it cannot be done."""
    if folder is None:
        return None, False
    from strandline.read.overlays import OverlayWriter
    from strandline.shared.files import OutputError
    from strandline.shared.messages import printable

    try:
        writer = OverlayWriter.for_photos(folder, photos, inputs.units, inputs.leg.layout, force=force)
    except OutputError as error:
        click.echo(printable(str(error)) + " The photos are read, but not drawn on.", err=True)
        return None, True
    return writer, False

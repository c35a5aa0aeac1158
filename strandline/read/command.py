"""``strandline read``: the lengths on a shaft from photos."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import force_option, logbook_option, output_option, read_options

if TYPE_CHECKING:
    from strandline.read.inputs import ReadInputs
    from strandline.read.one_photo import Outcome
    from strandline.read.overlays import OverlayWriter
    from strandline.read.several import Together


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
@click.option("--record", "records", is_flag=True, help="Record a ride with it, as ride add --photo does.")
@click.option(
    "--setting",
    "settings",
    multiple=True,
    metavar="LEG.ADJUSTER=COUNT",
    help="Of the ride, with --record: front.preload='3 turns'.",
)
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
    logbook_path: Path | None,
    rims: str | None,
    edges: str | None,
    hand_error: str | None,
    explain: bool,
    same: bool,
    as_json: bool,
    output: Path | None,
    force: bool,
    **options: str | None,
) -> None:
    """Read how long the exposed shaft is, how far the marker stands from the seal, and how much is left.

    What the shaft is comes from a bike's file (--bike) or is typed (--shaft, --layout).

    Each PHOTO shows one shaft with the printed card beside it, the card's arrow towards the seal. All photos must
    show shafts of the same diameter and layout. For the words, see strandline help terms.

    Exit status: 0 every photo was read, at least in part; 1 a photo was not read, photos could not be combined, or
    a picture could not be written; 2 wrong usage.
    """
    from strandline.read.parse import ReadOptions, parse_options
    from strandline.shared.messages import printable

    wanted = _each_once(photos)
    if rims is not None and len(wanted) > 1:
        raise click.BadParameter(
            "Edges set by hand belong to one photo: give one PHOTO at a time.", param_hint="--rims"
        )
    if same and len(wanted) < 2:
        raise click.BadParameter("At least two photos of the shaft are needed.", param_hint="--same")
    if force and output is None:
        raise click.BadParameter("There is nothing to replace without -o DIR.", param_hint="--force")
    if settings and not records:
        raise click.BadParameter("It is of a ride: add --record.", param_hint="--setting")
    if bike is None and options["shaft"] is None and options["layout"] is None:
        bike = _only_bike(logbook_path)
    if bike is None:
        if leg is not None or records:
            raise click.UsageError(
                "--leg and --record need a bike: add --bike, without --shaft and --layout."
            )
        for option in ("shaft", "layout"):
            if options[option] is None:
                raise click.UsageError(f"Missing option '--{option}': give it, or --bike.")
        inputs = parse_options(ReadOptions(rims=rims, edges=edges, hand_error=hand_error, **options))  # type: ignore[arg-type]
    else:
        from dataclasses import replace

        from strandline.read.of_bike import inputs_from_bike, record
        from strandline.read.parse import parsed_marks

        inputs, its_leg = inputs_from_bike(logbook_path, bike, leg, options)
        inputs = replace(inputs, marks=parsed_marks(rims, edges, hand_error))
        click.echo(printable(f"Read as {its_leg.name.value} of the bike's file."), err=True)
    writer, trouble = _writer(output, wanted, inputs, force)
    outcomes = []
    for number, name in enumerate(wanted, start=1):
        if not as_json and len(wanted) > 1 and sys.stderr.isatty():
            click.echo(f"{number}/{len(wanted)} {printable(name)}", err=True)
        outcome, written = _read(name, inputs, writer)
        trouble = trouble or not written
        outcomes.append(outcome)
        if as_json:
            _print_json(outcome, inputs, explain)
    together = _together(outcomes, inputs) if same else None
    if as_json:
        if together is not None:
            from strandline.read import several as words
            from strandline.read.json_line import json_line

            click.echo(json_line(together.outcome, inputs.assumed, words.as_fields(together)))
    else:
        _print_table(outcomes, together, inputs, explain)
    if records and bike is not None and not any(one.refused for one in outcomes):
        record(ctx, its_leg.name.value, wanted)
    rows = outcomes if together is None else [*outcomes, together.outcome]
    if trouble or (same and together is None) or any(outcome.refused for outcome in rows):
        ctx.exit(1)


def _only_bike(logbook_path: Path | None) -> str | None:
    """Give "", the only bike's name, where there is one bike."""
    from strandline.shared.storage import bikes_folder, bikes_in

    return "" if len(bikes_in(bikes_folder(logbook_path))) == 1 else None


def _print_json(outcome: Outcome, inputs: ReadInputs, explain: bool) -> None:
    from strandline.read.json_line import json_line

    more = None
    if explain:
        from strandline.read.explain import as_fields

        more = as_fields(outcome)
    click.echo(json_line(outcome, inputs.assumed, more))


def _print_table(
    outcomes: list[Outcome], together: Together | None, inputs: ReadInputs, explain: bool
) -> None:
    from strandline.read.text import show

    rows = outcomes if together is None else [*outcomes, together.outcome]
    show(rows, inputs.assumed, inputs.units, inputs.leg.layout.far_end)
    if together is not None:
        from strandline.read.several import show_together

        show_together(together, inputs.units)
    if explain:
        from strandline.read.explain import show_budgets

        show_budgets(outcomes, inputs.units)


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


def _read(name: str, inputs: ReadInputs, writer: OverlayWriter | None) -> tuple[Outcome, bool]:
    """Read one photo and write its overlay; False where that could not be written."""
    from strandline.read.one_photo import read_one
    from strandline.shared.files import OutputError
    from strandline.shared.messages import printable

    outcome, photo = read_one(name, inputs)
    if writer is None or photo is None:
        return outcome, True
    try:
        return writer.write(outcome, photo), True
    except OutputError as error:
        click.echo(printable(str(error)), err=True)
        return outcome, False

"""``strandline day new``: a day's folder with its roster and its cards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import force_option, paper_option

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from strandline.day.setup.folder import Made


@click.command(
    "new",
    epilog="Example: strandline day new spring-day --entrants sign-up.csv --paper a4",
    short_help="Make a day's folder with roster and printed cards.",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--entrants",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Who is coming: a text file with a name per line, or a table (CSV) with the roster's columns, for example "
    "label, kind, shaft_mm, hanging_mm, stroke_mm.",
)
@click.option(
    "--count",
    type=WholeNumber(1, 1000),
    metavar="N",
    help="In place of --entrants: this many, called Bike 1 and so on.",
)
@paper_option()
@click.option(
    "--from",
    "first",
    default="09:00",
    show_default=True,
    metavar="HH:MM",
    help="Start of the day; used where more entrants than cards share them by time.",
)
@click.option("--to", "last", default="18:00", show_default=True, metavar="HH:MM", help="End of the day.")
@force_option("a roster and cards that are there already")
def command(
    folder: Path, entrants: Path | None, count: int | None, paper: str, first: str, last: str, force: bool
) -> None:
    """Make FOLDER with roster.csv, cards.pdf (a card for each entrant, and clip-on tags), photos and bikes.

    Each entrant has two lines in the roster, for the fork and the shock: fill in the shaft's diameter (shaft_mm), the
    length from seal to far end with the wheel free (hanging_mm) and the stroke (stroke_mm). A bike's file, in the
    column bike, only adds to that.

    There are 47 different cards. With more entrants, several share a card by time of day; the roster then says who
    has which card when.
    """
    from strandline.day.errors import DayError
    from strandline.day.setup.folder import checked, entrants_in, lines_to_fill, new_day, plan
    from strandline.shared.messages import printable

    if (entrants is None) == (count is None):
        raise click.UsageError("Say who is coming: either --entrants names.txt or --count 30.")
    times = _time("--from", first), _time("--to", last)
    try:
        if entrants is not None:
            lines = entrants_in(entrants)
        else:
            lines = lines_to_fill(checked(tuple(f"Bike {n}" for n in range(1, (count or 0) + 1))))
        made = new_day(folder, plan(lines, *times), paper.lower(), force=force)
    except DayError as error:
        raise click.ClickException(printable(str(error))) from error
    for line in _said(folder, made):
        click.echo(printable(line))


def _said(folder: Path, made: Made) -> Iterator[str]:
    """Say what was made, what the roster still leaves open, and what comes next."""
    from strandline.day.identify.gaps import gap_lines, gaps

    many = len(made.labels)
    yield f"{folder}: roster.csv for {many} {'entrants' if many != 1 else 'entrant'}, cards.pdf with cards and tags."
    if made.by_hand:
        yield "No font here has the letters of these names; write them on the cards by hand: " + ", ".join(
            made.by_hand
        )
    missing = gap_lines(gaps(made.lines))
    if missing:
        yield "Empty in the roster, and what that costs:"
        yield from missing
    else:
        yield "The roster says all that is needed."
    yield "Next:"
    yield "1. Print cards.pdf at 100 % and measure the two 100 mm bars."
    yield (
        f"2. Fill {folder / 'roster.csv'} in a spreadsheet."
        if missing
        else "2. Hand the cards out, clip the tags on."
    )
    yield f"3. Copy the photos into {folder / 'photos'}."
    yield f"4. strandline day {folder}"


def _time(option: str, text: str) -> dt.time:
    import datetime as dt

    try:
        return dt.datetime.strptime(text, "%H:%M").time()
    except ValueError as error:
        raise click.BadParameter(f"“{text}” is not a time (use 09:00).", param_hint=option) from error

"""``strandline day new``: a day's folder with its roster and its cards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import WholeNumber, force_option, paper_option

if TYPE_CHECKING:
    import datetime as dt


@click.command(
    "new",
    epilog="Example: strandline day new spring-day --entrants names.txt --paper a4",
    short_help="Make a day's folder with roster and printed cards.",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--entrants",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A text file with the entrants' names, or what you call their bikes, one per line.",
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

    There are 47 different cards. With more entrants, several share a card by time of day; the roster then says who
    has which card when.
    """
    from strandline.day.errors import DayError
    from strandline.day.setup.folder import checked, entrants_in, new_day, plan
    from strandline.shared.messages import printable

    if (entrants is None) == (count is None):
        raise click.UsageError("Say who is coming: either --entrants names.txt or --count 30.")
    times = _time("--from", first), _time("--to", last)
    try:
        labels = checked(tuple(f"Bike {n}" for n in range(1, (count or 0) + 1))) if count else None
        if labels is None:
            assert entrants is not None
            labels = entrants_in(entrants)
        made = new_day(folder, plan(labels, *times), paper.lower(), force=force)
    except DayError as error:
        raise click.ClickException(printable(str(error))) from error
    many = len(made.lines) != 1
    click.echo(
        printable(
            f"{folder}: roster.csv with {len(made.lines)} {'entrants' if many else 'entrant'}, and cards.pdf "
        )
        + "with cards and clip-on tags."
    )
    if made.by_hand:
        click.echo(
            "No font here has the letters of these names; write them on the cards by hand: "
            + printable(", ".join(made.by_hand))
        )
    click.echo(
        "Next:\n"
        "1. Print cards.pdf at 100 % and measure the two 100 mm bars.\n"
        "2. Put each bike's file where the roster says (“strandline bike new” makes one).\n"
        "3. Put the photos into the folder photos.\n"
        + printable(f"4. strandline day {folder} --print-scale RATIO   (length of a bar over 100 mm: 0.998)")
    )


def _time(option: str, text: str) -> dt.time:
    import datetime as dt

    try:
        return dt.datetime.strptime(text, "%H:%M").time()
    except ValueError as error:
        raise click.BadParameter(f"“{text}” is not a time (use 09:00).", param_hint=option) from error

"""``strandline day new``: a day's folder with its roster and its cards."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(
    "new",
    epilog="Example: strandline day new spring-day --entrants names.txt --paper a4",
    short_help="Make a day's folder with roster and printed cards.",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--entrants",
    type=click.Path(path_type=Path),
    metavar="TXT",
    help="A text file with the entrants' names, or what you call their bikes, one a line.",
)
@click.option(
    "--count", type=click.IntRange(1, 1000), help="Instead: so many entrants, called Bike 1 and so on."
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="What is in the printer.",
)
@click.option(
    "--from", "first", default="09:00", show_default=True, metavar="HH:MM", help="When the day begins."
)
@click.option("--to", "last", default="18:00", show_default=True, metavar="HH:MM", help="When it ends.")
def command(
    folder: Path, entrants: Path | None, count: int | None, paper: str, first: str, last: str
) -> None:
    """Make FOLDER with roster.csv, cards.pdf with everybody's card and clip-on tags, and room for photos and bikes.

    There are 47 cards. More entrants share them by time of day: the roster then says who has which card when.
    """
    import datetime as dt

    from strandline.day.errors import DayError
    from strandline.day.setup.folder import checked, entrants_in, new_day, plan
    from strandline.shared.messages import printable

    if (entrants is None) == (count is None):
        raise click.UsageError("Say who comes: --entrants names.txt, or --count 30.")
    times = []
    for option, text in (("--from", first), ("--to", last)):
        try:
            times.append(dt.datetime.strptime(text, "%H:%M").time())
        except ValueError as error:
            raise click.BadParameter(f"“{text}” is no time. Write 09:00.", param_hint=option) from error
    try:
        labels = checked(tuple(f"Bike {n}" for n in range(1, (count or 0) + 1))) if count else None
        if labels is None:
            assert entrants is not None
            labels = entrants_in(entrants)
        made = new_day(folder, plan(labels, *times), paper.lower())
    except DayError as error:
        raise click.ClickException(printable(str(error))) from error
    click.echo(
        printable(f"{folder}: a roster of {len(made.lines)}, and cards.pdf with their cards and tags.")
    )
    if made.by_hand:
        click.echo(
            "No font here prints these names; write them on their cards: "
            + printable(", ".join(made.by_hand))
        )
    click.echo(
        "Print at 100 % and measure the bars. Put each bike's file where the roster says "
        "(strandline bike new makes one), the photos into photos, then: "
        + printable(f"strandline day {folder} --print-scale ...")
    )

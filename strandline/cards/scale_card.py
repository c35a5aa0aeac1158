"""``strandline card``: the printed sheets."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.files import OutputError, write_new
from strandline.shared.options import WholeNumber, force_option, json_option, output_option, paper_option


@click.command(
    epilog="Example: strandline card --numbers 0-5 --paper letter -o cards.pdf",
    short_help="Draw the scale cards to print.",
)
@click.option(
    "--numbers",
    default="0-1",
    show_default=True,
    metavar="NUMBERS",
    help="Which cards, 0 to 46: 0-5,7. The photo shows the card's number: give each bike its own card.",
)
@paper_option()
@output_option("The PDF to write.", "card.pdf")
@click.option(
    "--tags",
    type=WholeNumber(1, 7),
    is_flag=False,
    flag_value=1,
    metavar="SETS",
    help="Clip-on tags for tech days instead of cards (front left, after and so on): 1 set, or up to 7.",
)
@force_option("a PDF that is there already")
@json_option
def command(numbers: str, paper: str, output: Path, tags: int | None, force: bool, as_json: bool) -> None:
    """Draw the scale cards as a PDF, two to a sheet, with check bars and instructions.

    Print it at 100 %, measure the two 100 mm bars, stick it on something stiff. The sheet says how.
    """
    from calibration.sheet import SheetError, draw_sheets, parse_numbers
    from calibration.sheet_layout import PAPERS

    try:
        wanted = parse_numbers(numbers)
    except SheetError as error:
        raise click.BadParameter(f"{error.message} {error.remedy}", param_hint="--numbers") from error
    size = PAPERS[paper.lower()]
    try:
        drawn = draw_sheets(() if tags else wanted, size, tag_sets=tags or 0)
        write_new(output, drawn, force=force)
    except OutputError as error:
        raise click.ClickException(str(error)) from error
    if as_json:
        cards_drawn = [] if tags else list(wanted)
        fields = {"file": str(output), "paper": size.name, "cards": cards_drawn, "tag_sets": tags or 0}
        click.echo(json.dumps(fields))
        return
    if tags:
        click.echo(
            f"{output}: {tags} {'set' if tags == 1 else 'sets'} of clip-on tags on {size.name}. Print at 100 %."
        )
        return
    sheets = (len(wanted) + 1) // 2
    cards = "card" if len(wanted) == 1 else "cards"
    click.echo(
        f"{output}: {cards} {numbers.replace(' ', '')} on {sheets} {'sheet' if sheets == 1 else 'sheets'} "
        f"of {size.name}. Print at 100 %, then measure the two bars."
    )

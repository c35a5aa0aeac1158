"""``strandline card``: the printed sheets, and the check of a print."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.option_kinds import WholeNumber
from strandline.shared.options import force_option, json_option, output_option, paper_option

_TAG_SETS = 7


@click.command(
    epilog="Example: strandline card --numbers 0-5 --paper letter -o cards.pdf",
    short_help="Draw the scale cards to print, and check the print.",
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
    type=WholeNumber(1, _TAG_SETS),
    is_flag=False,
    flag_value=_TAG_SETS,
    metavar="SETS",
    help="Clip-on tags for tech days instead of cards (front left, after and so on): a page with all seven tags, "
    "7 times or as often as you say.",
)
@click.option(
    "--check",
    is_flag=False,
    flag_value="",
    metavar="[LENGTHS]",
    help="Check a print by its two 100 mm bars, along the cards x across them: 99.6x99.8. Without lengths you are "
    "asked. The scale is kept for the cards in --numbers.",
)
@click.option(
    "--measured",
    metavar="RATIO",
    help="Keep this print scale for the cards in --numbers: 0.996x0.998, along x across.",
)
@force_option("a PDF that is there already")
@json_option
def command(
    numbers: str,
    paper: str,
    output: Path,
    tags: int | None,
    check: str | None,
    measured: str | None,
    force: bool,
    as_json: bool,
) -> None:
    """Draw the scale cards as a PDF, two to a sheet, with check bars and instructions.

    Print it at 100 %, stick it on something stiff, measure its two bars: strandline card --check. The scale is then
    kept, and reading takes it for these cards.
    """
    from calibration.sheet import SheetError, draw_sheets, parse_numbers
    from calibration.sheet_layout import PAPERS
    from strandline.shared.files import write_new
    from strandline.shared.messages import errors_as_messages, printable

    try:
        wanted = parse_numbers(numbers)
    except SheetError as error:
        raise click.BadParameter(f"{error.message} {error.remedy}", param_hint="--numbers") from error
    if check is not None or measured is not None:
        _keep(wanted, check, measured, as_json)
        return
    size = PAPERS[paper.lower()]
    with errors_as_messages():
        drawn = draw_sheets(() if tags else wanted, size, tag_sets=tags or 0)
        write_new(output, drawn, force=force)
    if as_json:
        cards_drawn = [] if tags else list(wanted)
        fields = {"file": str(output), "paper": size.name, "cards": cards_drawn, "tag_sets": tags or 0}
        click.echo(json.dumps(fields))
        return
    if tags:
        sets = "the seven tags once" if tags == 1 else f"the seven tags, {tags} times"
        click.echo(printable(f"{output}: {sets} on {size.name}. Print at 100 %."))
        return
    _say_what_is_next(output, numbers, wanted, size.name)


def _say_what_is_next(output: Path, numbers: str, wanted: tuple[int, ...], paper: str) -> None:
    from strandline.cards.print_check import cards_in_words
    from strandline.shared.messages import errors_as_messages, printable, some
    from strandline.shared.settings import kept_scales

    sheets = some((len(wanted) + 1) // 2, "sheet")
    cards = "card" if len(wanted) == 1 else "cards"
    click.echo(printable(f"{output}: {cards} {numbers.replace(' ', '')} on {sheets} of {paper}."))
    chosen = "" if numbers == "0-1" else f" --numbers {numbers.replace(' ', '')}"
    click.echo(f"Print at 100 %. Then measure the two bars: strandline card --check{chosen}")
    with errors_as_messages():
        stale = [number for number in wanted if number in kept_scales()]
    if stale:
        click.echo(
            f"The scale kept for {cards_in_words(stale)} is of an earlier print: measure this one, too."
        )


def _keep(wanted: tuple[int, ...], check: str | None, measured: str | None, as_json: bool) -> None:
    """Keep the scale of cards, from their bars or as it is given."""
    from strandline.cards.print_check import advice_lines, cards_in_words, scale_of_bars
    from strandline.shared.messages import errors_as_messages, wrong_usage
    from strandline.shared.settings import SCALES, set_values
    from suspension.errors import QuantityError
    from suspension.quantities.print_scale import print_scale

    if check is not None and measured is not None:
        raise click.UsageError("Give the bars' lengths with --check, or the ratio with --measured, not both.")
    try:
        written = (measured or "").strip() if check is None else scale_of_bars(*_bars(check))
        scale = print_scale(written)
    except QuantityError as error:
        raise wrong_usage(error, "--check" if measured is None else "--measured") from error
    with errors_as_messages():
        set_values({f"{SCALES}.{number}": written for number in wanted})
    if as_json:
        fields = {"cards": list(wanted), "print_scale": {"along": scale.along, "across": scale.across}}
        click.echo(json.dumps({**fields, "advice": list(advice_lines(scale))}))
        return
    from strandline.shared.wrapped import wrapped

    for line in advice_lines(scale):
        click.echo("\n".join(wrapped(line)))
    words = f"Kept for {cards_in_words(wanted)}: print scale {written}, along x across the cards."
    click.echo("\n".join(wrapped(words)))


def _bars(text: str) -> tuple[str, str]:
    """Take the two lengths as given, or ask for them until they can be taken."""
    from strandline.cards.print_check import bars_of, scale_of_bars
    from suspension.errors import QuantityError

    if text.strip():
        return bars_of(text)
    click.echo("Measure both black bars end to end, with a caliper: to 0.1 mm.", err=True)
    found: list[str] = []
    for where in ("The upright bar, along the cards, mm", "The flat bar, across the cards, mm"):
        while True:
            typed = str(click.prompt(where, prompt_suffix="> ", err=True))
            try:
                scale_of_bars(typed, typed)
            except QuantityError as error:
                click.echo(f"  {error.message} {error.remedy}", err=True)
            else:
                found.append(typed)
                break
    return found[0], found[1]

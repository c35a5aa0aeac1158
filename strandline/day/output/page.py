"""The day's page: one HTML file that opens offline on a phone: what is to be done, then bikes with their legs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import TYPE_CHECKING

from strandline.day.identify.identity import Phase
from strandline.day.output.amounts import LENGTHS, Amounts
from strandline.day.output.drawings import spread_drawing, stroke_drawing
from strandline.day.output.text import (
    PHASES,
    advice_of,
    band_class,
    cards_words,
    clock,
    counts_words,
    deepest_share,
    fix_words,
    heading,
    leg_words,
    percent,
    short_verdict,
    subject,
    to_do_words,
)
from strandline.day.results.results import BikeResult, DayResults, ExceptionItem
from strandline.day.results.to_do import counts, doubles, of_label, to_do
from strandline.shared.messages import printable
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from jinja2 import Environment

Picture = Callable[[str, str | None], bytes | None]
"""From a photo's content hash, and the hash of its options (None: the photo itself, small), to a WebP."""

_KINDS_SHOWN = (
    ("", "Everything"),
    ("exception", "With photos not read"),
    ("bottomed", "Bottomed"),
    ("bumper", "In the bumper"),
    ("between", "Between bands"),
    ("window", "In the window"),
    ("plenty", "Plenty in reserve"),
    ("unknown", "No verdict"),
    ("flagged", "Left and right differ"),
)
_ORDERS = (
    ("card", "By card"),
    ("label", "By name"),
    ("share", "Deepest first"),
    ("exceptions", "Most not read first"),
)
# Templates give their text in pieces of a few bytes, and of a bike with its pictures; each write has at least so much.
_PIECE_LENGTH = 1 << 16


def page(day: DayResults, picture: Picture, units: Units = Units.MM, *, reload_s: int = 0) -> Iterator[str]:
    """Write the page, piece by piece, for its pictures are large.

    Parameters
    ----------
    day : DayResults
    picture : function
    units : Units
        Of lengths; what is drawn on the photos is in mm.
    reload_s : int
        The page loads itself anew after so many seconds, where results still come in; 0 for never.

    Yields
    ------
    str
        Parts of one HTML document.
    """
    return _pieces(
        "day.html",
        units,
        day=day,
        picture=picture,
        reload_s=reload_s,
        lengths=LENGTHS,
        no_phase=Phase.NONE,
        kinds_shown=_KINDS_SHOWN,
        orders=_ORDERS,
        exception_search_text=exception_search_text,
        bike_search_text=bike_search_text,
        counts=counts(day),
        groups=to_do(day),
        doubles=doubles(day),
    )


def sheets(day: DayResults, picture: Picture, units: Units = Units.MM) -> Iterator[str]:
    """Write the entrants' sheets, piece by piece: one page of paper each, printed from any browser, in any script.

    Parameters
    ----------
    day : DayResults
    picture : function
    units : Units
        As of `page`.

    Yields
    ------
    str
        Parts of one HTML document.
    """
    groups = to_do(day)
    by_label = {bike.label: of_label(groups, bike.label) for bike in day.bikes}
    return _pieces("sheets.html", units, day=day, picture=picture, to_do=by_label)


def _pieces(template: str, units: Units, **values: object) -> Iterator[str]:
    waiting: list[str] = []
    length = 0
    for piece in _environment(units).get_template(template).generate(unit=units.value, **values):
        waiting.append(piece)
        length += len(piece)
        if length >= _PIECE_LENGTH:
            yield "".join(waiting)
            waiting.clear()
            length = 0
    yield "".join(waiting)


def without_inline(text: str, style: str, script: str) -> str:
    """Refer from a day's page to its style and script instead of holding them, for a server that allows neither.

    Parameters
    ----------
    text : str
        The page.
    style, script : str
        Addresses.

    Returns
    -------
    str
        Also without the page's own policy, which allows both.
    """
    files = _environment(Units.MM)
    css, js = (files.get_template(name).render() for name in ("day.css", "day.js"))
    text = text.replace(f"<style>\n{css}</style>", f'<link rel="stylesheet" href="{style}">')
    text = text.replace(f"<script>\n{js}</script>", f'<script src="{script}" defer></script>')
    start = text.index("<meta\n  http-equiv")
    return text[:start] + text[text.index(">", start) + 1 :]


@cache
def _environment(units: Units) -> Environment:
    from strandline.shared.html import data_uri, environment

    amounts = Amounts(units)
    of_amounts = (
        *(amounts.amount, amounts.number, amounts.comparisons, amounts.notes),
        *(amounts.reserves, amounts.sheet_lines, amounts.of_what, amounts.why_no_verdict),
        *(amounts.sentence, amounts.what_of),
    )
    texts = (
        *(advice_of, band_class, cards_words, clock, counts_words, fix_words, heading, leg_words, percent),
        *(short_verdict, subject, to_do_words),
    )
    values = (deepest_share, kinds, spread_drawing, stroke_drawing)
    filters: dict[str, Callable[..., object]] = {one.__name__: one for one in (*of_amounts, *texts, *values)}
    filters["phase_words"] = PHASES.__getitem__
    filters["webp"] = lambda content: data_uri(content, "image/webp")
    return environment(__package__, filters)


def kinds(bike: BikeResult) -> str:
    """Words by which the page filters a bike, with blanks between."""
    found = {band_class(leg.counted) for leg in bike.legs}
    found |= {"exception"} if bike.exceptions else set()
    found |= {"flagged"} if any(one.comparison.flagged for one in bike.sides) else set()
    return " ".join(sorted(found))


def exception_search_text(item: ExceptionItem) -> str:
    """Collect what the page's search finds an exception by."""
    return _search_text(heading(item.code), item.file, subject(item, separator=" "))


def bike_search_text(bike: BikeResult) -> str:
    """Collect what the page's search finds a bike by."""
    files = [reading.file for leg in bike.legs for reading in leg.readings]
    return _search_text(bike.label, bike.about, cards_words(bike), *files)


def _search_text(*words: str) -> str:
    return printable(" ".join(word for word in words if word)).lower()

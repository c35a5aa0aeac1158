"""The day's page: one HTML file that opens offline on a phone, exceptions first, then bikes with their legs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import TYPE_CHECKING

from strandline.day.identify.identity import Phase
from strandline.day.output.drawings import spread_drawing, stroke_drawing
from strandline.day.output.text import (
    LENGTHS,
    PHASES,
    band_class,
    cards_words,
    clock,
    comparisons,
    deepest_share,
    heading,
    leg_words,
    mm,
    notes,
    percent,
    reserves,
    sheet_lines,
    short_verdict,
    stroke_rows,
    subject,
)
from strandline.day.results.results import BikeResult, DayResults, ExceptionItem
from strandline.shared.messages import printable

if TYPE_CHECKING:
    from jinja2 import Environment

Picture = Callable[[str, str | None], bytes | None]
"""From a photo's content hash, and the hash of its options (None: the photo itself, small), to a WebP."""

_KINDS_SHOWN = (
    ("", "Everything"),
    ("exception", "With exceptions"),
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
    ("exceptions", "Most exceptions first"),
)
# Templates give their text in pieces of a few bytes; so many go into one write.
_PIECES = 500


def page(day: DayResults, picture: Picture, *, reload_s: int = 0) -> Iterator[str]:
    """Write the page, piece by piece, for its pictures are large.

    Parameters
    ----------
    day : DayResults
    picture : function
    reload_s : int
        The page loads itself anew after so many seconds, where results still come in; 0 for never.

    Yields
    ------
    str
        Parts of one HTML document.
    """
    return _pieces(
        "day.html",
        day=day,
        picture=picture,
        reload_s=reload_s,
        lengths=LENGTHS,
        no_phase=Phase.NONE,
        kinds_shown=_KINDS_SHOWN,
        orders=_ORDERS,
        exception_search_text=exception_search_text,
        bike_search_text=bike_search_text,
    )


def sheets(day: DayResults, picture: Picture) -> Iterator[str]:
    """Write the entrants' sheets, piece by piece: one page of paper each, printed from any browser, in any script.

    Parameters
    ----------
    day : DayResults
    picture : function

    Yields
    ------
    str
        Parts of one HTML document.
    """
    return _pieces("sheets.html", day=day, picture=picture)


def _pieces(template: str, **values: object) -> Iterator[str]:
    stream = _environment().get_template(template).stream(**values)
    stream.enable_buffering(_PIECES)
    return iter(stream)


@cache
def _environment() -> Environment:
    from strandline.shared.html import data_uri, environment

    texts = (cards_words, clock, comparisons, heading, leg_words, mm, notes, percent, reserves, sheet_lines)
    values = (
        band_class,
        deepest_share,
        kinds,
        short_verdict,
        spread_drawing,
        stroke_drawing,
        stroke_rows,
        subject,
    )
    filters: dict[str, Callable[..., object]] = {one.__name__: one for one in (*texts, *values)}
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
    """What the page's search finds an exception by."""
    return _search_text(heading(item.code), item.file, subject(item, separator=" "))


def bike_search_text(bike: BikeResult) -> str:
    """What the page's search finds a bike by."""
    files = [reading.file for leg in bike.legs for reading in leg.readings]
    return _search_text(bike.label, bike.bike_name, cards_words(bike), *files)


def _search_text(*words: str) -> str:
    return printable(" ".join(word for word in words if word)).lower()

"""The day's page: one HTML file that opens offline on a phone, exceptions first, then bikes with their legs."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator
from html import escape

from ridelog.names import LegName
from strandline.day.identify.identity import Phase
from strandline.day.output.drawings import spread_drawing, stroke_drawing
from strandline.day.output.page_style import SCRIPT, STYLE
from strandline.day.output.text import (
    LENGTHS,
    PHASES,
    band_class,
    cards_words,
    clock,
    deepest_share,
    heading,
    leg_words,
    mm,
    percent,
    short_verdict,
    signed_mm,
)
from strandline.day.results.results import BikeResult, DayResults, ExceptionItem, LegReading, Repeated
from strandline.shared.messages import printable

Picture = Callable[[str, str | None], bytes | None]
"""From a photo's content hash, and what was stated (None: the photo itself, small), to a WebP."""

_SHOW = (
    ("", "Everything"),
    ("trouble", "With exceptions"),
    ("bottomed", "Bottomed"),
    ("bumper", "In the bumper"),
    ("between", "Between bands"),
    ("window", "In the window"),
    ("plenty", "Plenty in reserve"),
    ("unknown", "No verdict"),
    ("flagged", "Left and right differ"),
)
_SORT = (
    ("card", "By card"),
    ("label", "By name"),
    ("share", "Deepest first"),
    ("troubles", "Most exceptions first"),
)


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
    title = printable(day.name)
    yield (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'; script-src 'unsafe-inline'\">\n"
        f"<title>{escape(title)}: suspension readings</title>\n<style>{STYLE}</style>\n</head>\n"
        f'<body data-reload="{reload_s}">\n<header>\n<h1>{escape(title)}</h1>\n'
        f'<ul class="sum"><li><b>{day.photos}</b>photos</li><li><b>{day.read}</b>read</li>'
        f"<li><b>{len(day.exceptions)}</b>exceptions</li><li><b>{len(day.bikes)}</b>bikes</li></ul>\n"
        '<p class="soft">Lengths in mm. ± holds the true length 95 times in 100. A reading is no permission to '
        "change anything: ask the owner first.</p>\n</header>\n" + _tools()
    )
    yield '<main>\n<section id="exceptions">\n<h2>Exceptions</h2>\n'
    if not day.exceptions:
        yield "<p>None: every photo was read and is somebody’s.</p>\n"
    yield '<div class="troubles">\n'
    for trouble in day.exceptions:
        yield _trouble(trouble, picture)
    yield '</div>\n</section>\n<section id="all-bikes">\n<h2>Bikes</h2>\n'
    yield '<p id="none" hidden>No bike fits.</p>\n<div id="bikes">\n'
    for bike in day.bikes:
        yield _bike(bike, picture)
    yield "</div>\n</section>\n" + _day(day)
    yield (
        '</main>\n<dialog id="zoom"><div class="pan"><img alt=""></div><button type="button">Close</button></dialog>\n'
        f"<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _tools() -> str:
    def options(pairs: tuple[tuple[str, str], ...]) -> str:
        return "".join(f'<option value="{value}">{words}</option>' for value, words in pairs)

    jump = '<span class="jump"><a href="#exceptions">Exceptions</a> · <a href="#all-bikes">Bikes</a></span>'
    return (
        '<nav><form><input id="find" type="search" placeholder="Name, card, bike, file" aria-label="Find">'
        f'<select id="show" aria-label="Show">{options(_SHOW)}</select>'
        f'<select id="sort" aria-label="Sort">{options(_SORT)}</select>{jump}</form></nav>\n'
    )


def _trouble(one: ExceptionItem, picture: Picture) -> str:
    thumb = None if one.sha256 is None else picture(one.sha256, None)
    who = [one.label or "", "" if one.card is None else f"card {one.card}"]
    who += ["" if one.leg is None else leg_words(one.leg.value), one.phase.value, clock(one.when)]
    about = ", ".join(printable(part) for part in who if part)
    text = _search(heading(one.code), one.file, *who)
    return (
        f'<article class="trouble" data-text="{text}">'
        + (_image(thumb, f"Photo {one.file}") if thumb else '<div class="none">no picture</div>')
        + f"<div><h3>{escape(heading(one.code))}</h3>"
        + (f'<p class="soft">{escape(about)}</p>' if about else "")
        + f"<p>{escape(printable(one.what))} <b>{escape(printable(one.advice))}</b></p>"
        + f'<p class="name">{escape(printable(one.file))}</p></div></article>\n'
    )


def _bike(bike: BikeResult, picture: Picture) -> str:
    kinds = {band_class(leg.counted) for leg in bike.legs}
    kinds |= {"trouble"} if bike.exceptions else set()
    kinds |= {"flagged"} if any(one.comparison.flagged for one in bike.sides) else set()
    files = [reading.file for leg in bike.legs for reading in leg.readings]
    text = _search(bike.label, bike.bike_name, cards_words(bike), *files)
    count = (
        f'<span class="flag">{bike.exceptions} exception{"s" * (bike.exceptions > 1)}</span>'
        if bike.exceptions
        else ""
    )
    legs = "".join(_leg(bike, leg, picture) for leg in bike.all_legs)
    said = "".join(f"<li>{line}</li>" for line in (*_side_lines(bike), *_change_lines(bike)))
    return (
        f'<article data-text="{text}" data-kinds="{" ".join(sorted(kinds))}" data-card="{bike.cards[0]}" '
        f'data-label="{escape(printable(bike.label))}" data-share="{deepest_share(bike):.4f}" '
        f'data-troubles="{bike.exceptions}">'
        f'<div class="head"><h3>{escape(printable(bike.label))}</h3><span class="soft">'
        f"{escape(printable(bike.bike_name or bike.bike_file))}, {cards_words(bike)} {count}</span></div>"
        + (f'<ul class="notes">{said}</ul>' if said else "")
        + f'<div class="legs">{legs}</div></article>\n'
    )


def _side_lines(bike: BikeResult) -> Iterator[str]:
    for one in bike.sides:
        phase = f" {one.phase}" if one.phase else ""
        difference = signed_mm(one.comparison.difference_mm)
        words = f"{one.end.value.capitalize()}{phase}: left less right {difference} mm"
        if one.comparison.flagged:
            yield f'<span class="flag">{words}: more than the doubt allows. Binding, or a marker that slipped.</span>'
        else:
            yield f"{words}, within the doubt."


def _change_lines(bike: BikeResult) -> Iterator[str]:
    for one in bike.changes:
        words = f"{leg_words(one.leg.value).capitalize()}: after less before {signed_mm(one.deeper_mm)} mm of stroke"
        yield f"<b>{words}.</b>" if one.is_clear else f"{words}, within the doubt."


def _leg(bike: BikeResult, leg: LegName, picture: Picture) -> str:
    phases = bike.phases or (Phase.NONE,)
    cells = []
    for phase in phases:
        result = bike.of(leg, phase)
        if result is None:
            cells.append(
                f'<div class="phase"><div></div><div><div class="what">{PHASES[phase]}</div>'
                '<p class="soft">not read</p></div></div>'
            )
            continue
        cells.append(_reading(result.counted, phase, leg, picture, len(result.readings)))
    name = leg_words(leg.value).capitalize()
    return f'<div class="leg"><h3>{name}</h3><div class="phases">{"".join(cells)}</div></div>'


def _reading(reading: LegReading, phase: Phase, leg: LegName, picture: Picture, photos: int) -> str:
    overlay = picture(reading.sha256, reading.declared)
    about = f"{leg_words(leg.value)} {PHASES[phase]}, the reading drawn on it"
    rows = [
        ("Share", percent(reading.percent)),
        ("To the bumper", mm(reading.reserve_bumper)),
        ("To the stop", mm(reading.reserve_hard)),
    ]
    shown = "".join(f"<dt>{name}</dt><dd>{value}</dd>" for name, value in rows if value != "–")
    lengths = "".join(
        f"<dt>{words}</dt><dd>{mm(reading.length(name))}</dd>" for name, words in LENGTHS.items()
    )
    used = f"{mm(reading.used)} mm" if reading.used is not None else "used stroke not known"
    repeats = f", {photos} photos agree" if photos > 1 else ""
    return (
        f'<div class="phase">{_image(overlay, about)}<div><div class="what">{PHASES[phase]} '
        f"{clock(reading.when)}{repeats}</div>"
        f'<div class="big">{escape(used)}</div><span class="chip {band_class(reading)}">'
        f"{escape(short_verdict(reading))}</span>{stroke_drawing(reading)}<dl>{shown}</dl>"
        f"<details><summary>More</summary><dl>{lengths}</dl>{_told(reading)}"
        f'<p class="name">{escape(printable(reading.file))}</p></details></div></div>'
    )


def _told(reading: LegReading) -> str:
    """Every sentence that belongs to a reading."""
    record = reading.record
    stroke = record.get("stroke") or {}
    lines = [reading.verdict.words, *reading.verdict.remarks]
    lines += [f"{one['what']} {one['advice']}".strip() for one in record.get("reasons", ())]
    lines += [*stroke.get("withheld", ()), *stroke.get("remarks", ()), *record.get("cautions", ())]
    lines.append(f"Told by: {', '.join(reading.by)}.")
    items = "".join(f"<li>{escape(printable(line))}</li>" for line in dict.fromkeys(lines) if line)
    return f'<ul class="notes">{items}</ul>'


def _day(day: DayResults) -> str:
    drawing = spread_drawing(day)
    parts = []
    if drawing:
        parts.append(
            f'<section>\n<h2>Over the day</h2>\n<div class="wide">{drawing}</div>\n<p class="soft">Used share of the '
            "stroke to the bumper, or to the stop where the bumper is not known, by the phones’ clocks. Dots are "
            "front legs, squares rear legs; the shaded strip is the window.</p>\n</section>\n"
        )
    if day.repeated:
        rows = "".join(_repeated(one) for one in day.repeated)
        parts.append(
            '<section>\n<h2>Legs photographed twice</h2>\n<div class="wide"><table><thead><tr><th>mm</th><th>legs</th>'
            "<th>photos</th><th>sd between photos</th><th>95 % interval</th><th>sd claimed</th></tr></thead>"
            f'<tbody>{rows}</tbody></table></div>\n<p class="soft">What differs from photo to photo of one leg. A card '
            "printed at another scale, or a diameter stated wrongly, is the same in all of them and does not show "
            "here; so the claimed uncertainty should be the larger.</p>\n</section>\n"
        )
    return "".join(parts)


def _repeated(one: Repeated) -> str:
    found = one.found
    mark = ' class="flag"' if one.is_underestimated else ""
    return (
        f"<tr><td>{LENGTHS[one.name]}</td><td>{found.groups}</td><td>{found.readings}</td><td{mark}>{found.sd:.2f}</td>"
        f"<td>{found.low:.2f} to {found.high:.2f}</td><td>{one.claimed_sd:.2f}</td></tr>"
    )


def _image(picture: bytes | None, about: str) -> str:
    if picture is None:
        return "<div></div>"
    data = base64.b64encode(picture).decode("ascii")
    return (
        f'<button type="button" class="pic"><img alt="{escape(printable(about))}" '
        f'src="data:image/webp;base64,{data}"></button>'
    )


def _search(*words: str) -> str:
    return escape(printable(" ".join(word for word in words if word)).lower())

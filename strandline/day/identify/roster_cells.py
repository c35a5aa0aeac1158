"""Cells of a roster: from text to typed values and back. Lengths without a unit are in the column's."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TypeVar

from ridelog.bikes.amounts import is_dont_know
from ridelog.names import End
from strandline.day.identify.roster_line import SIDES, RosterLine
from strandline.day.identify.window import Window, window
from strandline.shared.messages import ROOM_ERRORS
from strandline.shared.photo_options import STATES
from strandline.shared.suggest import did_you_mean
from suspension.quantities.declared import (
    Amount,
    extended_length,
    marker_width,
    shaft_diameter,
    stroke_length,
)
from suspension.quantities.print_scale import BAR_BY_CALIPER_U95, PrintScale, print_scale
from suspension.quantities.quantity import COVERAGE_FACTOR
from suspension.stroke.leg import Layout, State
from suspension.stroke.marker import MarkerKind

T = TypeVar("T")

COLUMNS = (
    *("card", "label", "kind", "shaft_mm", "hanging_mm", "stroke_mm", "end", "side"),
    *("marker", "marker_colour", "marker_width_mm", "print_scale", "state", "from", "to", "bike", "note"),
)
NEEDED = ("card", "label")
# Other heads that people write, and those of rosters of before.
OTHER_HEADS = {
    **dict.fromkeys(("name", "entrant", "rider"), "label"),
    **dict.fromkeys(("layout", "leg"), "kind"),
    **dict.fromkeys(("shaft", "diameter", "diameter_mm", "shaft_diameter", "shaft_diameter_mm"), "shaft_mm"),
    **dict.fromkeys(("hanging", "hanging_length", "hanging_length_mm", "extended_mm"), "hanging_mm"),
    "stroke": "stroke_mm",
    **dict.fromkeys(("marker_color", "colour", "color"), "marker_colour"),
    "marker_width": "marker_width_mm",
    "bike_file": "bike",
}
KINDS = {
    **dict.fromkeys(("fork", "conventional fork", "telescopic fork"), Layout.FORK),
    **dict.fromkeys(
        ("upside down fork", "upside down", "usd", "usd fork", "inverted", "inverted fork"),
        Layout.UPSIDE_DOWN_FORK,
    ),
    **dict.fromkeys(("shock", "shocks", "monoshock", "rear shock"), Layout.SHOCK),
}
MARKERS = {
    **dict.fromkeys(("tie", "zip tie", "cable tie"), MarkerKind.TIE),
    **dict.fromkeys(("o ring", "oring", "ring"), MarkerKind.O_RING),
    **dict.fromkeys(("", "unknown"), MarkerKind.UNKNOWN),
}
_WHOLE = re.compile(r"[0-9]+")
_HAS_UNIT = re.compile(r"[^\W\d_]|[\"″]")


def head_of(written: str) -> str:
    """Column that a written head means: case, blanks and brackets do not matter; "" for an empty one."""
    plain = re.sub(r"[^\w]+", "_", written.strip().lower()).strip("_")
    return OTHER_HEADS.get(plain, plain)


def line_of(row: Mapping[str, str], number: int) -> RosterLine:
    """Read one line.

    Parameters
    ----------
    row : mapping from str to str
        Cells by column, without outer blanks.
    number : int
        Of the line in the file.

    Raises
    ------
    ValueError
        Saying what is wrong with it.
    """
    kind = _kind(row.get("kind", ""))
    return RosterLine(
        card=_card(row.get("card", "")),
        label=row.get("label", ""),
        kind=kind,
        shaft=_amount(row, "shaft_mm", lambda text: shaft_diameter(_caliper(text))),
        hanging=_amount(row, "hanging_mm", extended_length),
        stroke=_amount(row, "stroke_mm", stroke_length),
        end=_end(row.get("end", "")),
        side=_side(row.get("side", "")),
        marker_kind=_one_of(row.get("marker", ""), MARKERS, "marker", "tie or o-ring"),
        marker_color=row.get("marker_colour") or None,
        marker_width=_amount(row, "marker_width_mm", marker_width),
        print_scale=_parsed(row, "print_scale", print_scale),
        state=_state(row.get("state", "")),
        window=window(row.get("from", ""), row.get("to", "")),
        bike_file=row.get("bike", ""),
        note=row.get("note", ""),
        number=number,
    )


def cells_of(line: RosterLine) -> dict[str, str]:
    """Write one line as cells by column, as `line_of` reads them."""
    first, last = window_texts(line.window)
    return {
        "card": "" if line.card is None else str(line.card),
        "label": line.label,
        "kind": "" if line.kind is None else line.kind.value.replace("-fork", " fork"),
        "shaft_mm": _millimetres(line.shaft),
        "hanging_mm": _millimetres(line.hanging),
        "stroke_mm": _millimetres(line.stroke),
        "end": "" if line.end is None else line.end.value,
        "side": line.side or "",
        "marker": "" if line.marker_kind is MarkerKind.UNKNOWN else line.marker_kind.value,
        "marker_colour": line.marker_color or "",
        "marker_width_mm": _millimetres(line.marker_width),
        "print_scale": "" if line.print_scale is None else print_scale_text(line.print_scale),
        "state": "" if line.state is None else line.state.value,
        "from": first,
        "to": last,
        "bike": line.bike_file,
        "note": line.note,
    }


def window_texts(one: Window) -> tuple[str, str]:
    """Write both ends of a window as `strandline.day.identify.window.window` reads them."""
    day = "" if one.date is None else f"{one.date.isoformat()} "
    first, last = (
        "" if end is None else day + end.isoformat("seconds" if end.second else "minutes")
        for end in (one.start, one.stop)
    )
    return first, last


def print_scale_text(scale: PrintScale) -> str:
    """Write a print scale as `suspension.quantities.print_scale.print_scale` reads it."""
    text = f"{scale.along:.6g}" + (f" x {scale.across:.6g}" if scale.separate else "")
    u95 = COVERAGE_FACTOR * scale.sd
    return text if abs(u95 - BAR_BY_CALIPER_U95) < 1e-9 else f"{text} ± {u95:.3g}"


def _card(text: str) -> int | None:
    from calibration.card import CARD_COUNT

    if not text:
        return None
    # A spreadsheet may write a whole number as 3.0.
    plain = re.sub(r"[.,]0+$", "", text)
    if not (plain.isascii() and plain.isdigit()) or int(plain) >= CARD_COUNT:
        raise ValueError(f"“{text}” is not a card: cards are numbered 0 to {CARD_COUNT - 1}")
    return int(plain)


def _kind(text: str) -> Layout | None:
    return None if is_dont_know(text) else _one_of(text, KINDS, "kind", "fork, upside-down fork or shock")


def _one_of(text: str, words: Mapping[str, T], column: str, right: str) -> T:
    plain = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if plain not in words:
        meant = did_you_mean(plain, words)
        raise ValueError(f"the {column} is “{text}”; write {right}" + (f". {meant}" if meant else ""))
    return words[plain]


def _end(text: str) -> End | None:
    plain = text.lower()
    if plain not in ("", *End):
        raise ValueError(f"the end is “{plain}”; write front or rear")
    return End(plain) if plain else None


def _side(text: str) -> str | None:
    plain = text.lower()
    if plain not in ("", *SIDES):
        raise ValueError(f"the side is “{plain}”; write one of {', '.join(SIDES)}")
    return plain or None


def _state(text: str) -> State | None:
    plain = "-".join(text.lower().split())
    if not plain:
        return None
    if plain not in STATES:
        raise ValueError(f"the state is “{plain}”; write one of {', '.join(STATES)}")
    return State(plain)


def _caliper(text: str) -> str:
    """Give a whole number back the digit that a spreadsheet took: it shows 41.0, as a caliper does, as 41."""
    number, unit, _ = text.partition(" mm")
    return f"{number}.0{unit}" if _WHOLE.fullmatch(number) else text


def _amount(row: Mapping[str, str], column: str, read: Callable[[str], Amount]) -> Amount | None:
    return _parsed(row, column, lambda text: read(text if _HAS_UNIT.search(text) else f"{text} mm"))


def _parsed(row: Mapping[str, str], column: str, read: Callable[[str], T]) -> T | None:
    text = row.get(column, "")
    if is_dont_know(text):
        return None
    try:
        return read(text)
    except ROOM_ERRORS as error:
        raise ValueError(f"{column}: {error.message} {error.remedy}".rstrip(".")) from error


def _millimetres(amount: Amount | None) -> str:
    """Write a length without its unit where that is mm."""
    return "" if amount is None else re.sub(r"^([0-9.,]+)\s*mm$", r"\1", amount.as_written)

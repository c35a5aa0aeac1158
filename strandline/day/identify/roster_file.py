"""Parser of the roster's file, and of the bikes' files that it names; problems are reported with their line."""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import replace
from pathlib import Path

import click

from ridelog.bikes.file import BikeFile, read_bike
from ridelog.errors import LogbookError
from ridelog.names import End
from ridelog.regular_file import read_regular
from strandline.day.errors import DayError
from strandline.day.identify.roster import Entry, Roster, RosterLeg, folded
from strandline.day.identify.window import window
from strandline.read.inputs import PhotoInputs, inputs_of_leg
from strandline.read.parse import parse_photo_options
from strandline.shared.messages import ROOM_ERRORS
from strandline.shared.options import STATES
from suspension.stroke.leg import State

COLUMNS = ("card", "label", "bike", "end", "side", "from", "to", "print_scale", "state", "note")
NEEDED = ("card", "label", "bike")
SIDES = ("left", "right", "single")
# More lines than this are no roster of a day.
LARGEST_BYTES = 1_000_000


def read_roster(path: Path, *, print_scale: str | None = None, state: str | None = None) -> Roster:
    """Read the roster and the bikes' files that it names.

    Parameters
    ----------
    path : Path
        CSV with a header (RFC 4180), comma, semicolon or tab between, UTF-8. Bikes' files lie in its
        folder or below it.
    print_scale, state : str, optional
        Where a line says nothing.

    Returns
    -------
    Roster
        A bike's file that cannot be used costs its own entrant only, and stands in `Entry.problem`.

    Raises
    ------
    DayError
        Everything that is wrong in the roster itself, with lines.
    """
    content = _content(path)
    problems: list[str] = []
    entries = []
    bikes: dict[str, BikeFile | str] = {}
    hashed = hashlib.sha256(content + f"\0{print_scale}\0{state}".encode())
    for line, row in _rows(path, content):
        try:
            entry = _entry(line, row)
            photo = _photo_inputs(row.get("print_scale") or print_scale, row.get("state") or state)
        except ValueError as error:
            problems.append(f"line {line}: {error}")
            continue
        if entry.bike_file not in bikes:
            bikes[entry.bike_file] = _bike(path.parent, entry.bike_file)
        bike = bikes[entry.bike_file]
        hashed.update((bike if isinstance(bike, str) else bike.sha256).encode())
        entries.append(_with_bike(entry, bike, photo))
    problems += _clashes(entries)
    if problems:
        lines = "\n  ".join(problems)
        raise DayError(f"The roster {path} has problems:\n  {lines}\n", "Fix these lines and run this again.")
    if not entries:
        raise DayError(f"The roster {path} has no line with a card.", "Add a line for each card.")
    return Roster(tuple(entries), hashed.hexdigest())


def _content(path: Path) -> bytes:
    try:
        content = read_regular(path, LARGEST_BYTES)
    except OSError as error:
        raise DayError(
            f"The roster {path} cannot be read: {error.strerror}.",
            "Make one with “strandline day new”, or name it with --roster.",
        ) from error
    return content


def _rows(path: Path, content: bytes) -> list[tuple[int, dict[str, str]]]:
    """Split the file into lines with anything in them, as values by column."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise DayError(
            f"The roster {path} is not UTF-8 text (line {line}).",
            "Save it from the spreadsheet as “CSV UTF-8”.",
        ) from error
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        head = [_plain(name).replace(" ", "_") for name in next(reader, [])]
        wrong = [name for name in head if name and name not in COLUMNS]
        missing = [name for name in NEEDED if name not in head]
        if wrong or missing or len(set(filter(None, head))) < len(list(filter(None, head))):
            what = (
                f"has no column {missing[0]}" if missing else "has a column that is not known, or one twice"
            )
            named = f" ({', '.join(wrong)})" if wrong else ""
            raise DayError(
                f"The roster {path} {what}{named}.",
                f"Its first line may have the columns {', '.join(COLUMNS)}.",
            )
        rows = []
        for cells in reader:
            row = {name: cell.strip() for name, cell in zip(head, cells, strict=False) if name}
            if any(row.values()):
                rows.append((reader.line_num, row))
    except csv.Error as error:
        raise DayError(
            f"The roster {path} cannot be read as CSV in line {reader.line_num} ({error}).",
            "Save it from the spreadsheet as “CSV UTF-8”.",
        ) from error
    return rows


def _entry(line: int, row: dict[str, str]) -> Entry:
    """Parse one line, or raise a ValueError that says what is wrong with it."""
    from calibration.card import CARD_COUNT

    for name in NEEDED:
        if not row.get(name):
            raise ValueError(f"the column {name} is empty")
    card = row["card"]
    if not (card.isascii() and card.isdigit()) or int(card) >= CARD_COUNT:
        raise ValueError(f"“{card}” is not a card: cards are numbered 0 to {CARD_COUNT - 1}")
    end, side = row.get("end", "").lower(), row.get("side", "").lower()
    if end not in ("", *End):
        raise ValueError(f"the end is “{end}”; write front or rear")
    if side not in ("", *SIDES):
        raise ValueError(f"the side is “{side}”; write one of {', '.join(SIDES)}")
    return Entry(
        line,
        int(card),
        row["label"],
        row["bike"],
        End(end) if end else None,
        side or None,
        window(row.get("from", ""), row.get("to", "")),
    )


def _state(text: str | None) -> State:
    if not text:
        return State.UNKNOWN
    if text not in STATES:
        raise ValueError(f"the state is “{text}”; write one of {', '.join(STATES)}")
    return State(text)


def _photo_inputs(scale: str | None, state: str | None) -> PhotoInputs:
    """Take what a line says of its photos, or raise a ValueError that says what is wrong with it."""
    try:
        return parse_photo_options(scale, None, _state(state))
    except click.BadParameter as error:
        raise ValueError(f"print_scale: {error.message}") from error


def _bike(folder: Path, written: str) -> BikeFile | str:
    path = folder / written
    try:
        return read_bike(path, inside=folder)
    except LogbookError as error:
        # Where the folder lies on this machine is nobody's business who gets the page.
        return f"{error.message} {error.remedy}".replace(str(path), written)


def _with_bike(entry: Entry, bike: BikeFile | str, photo: PhotoInputs) -> Entry:
    if isinstance(bike, str):
        return replace(entry, problem=bike)
    legs = []
    for leg in bike.bike.legs:
        met = leg.bumper_stroke_mm
        shaft_mm = None if leg.shaft is None else leg.shaft.value
        try:
            inputs = inputs_of_leg(leg, photo)
        except ROOM_ERRORS as error:
            legs.append(RosterLeg(leg.name, None, f"{error.message} {error.remedy}", shaft_mm))
        else:
            legs.append(RosterLeg(leg.name, inputs, "", shaft_mm, None if met is None else met.value))
    return replace(entry, bike_name=bike.bike.name, legs=tuple(legs))


def _clashes(entries: list[Entry]) -> list[str]:
    """Find lines that contradict each other."""
    found = []
    for i, one in enumerate(entries):
        for other in entries[:i]:
            if one.card == other.card and one.window.meets(other.window):
                found.append(
                    f"lines {other.line} and {one.line}: card {one.card} serves {other.label} and {one.label} at "
                    "the same time: give the lines windows that do not overlap"
                )
            if folded(one.label) == folded(other.label) and one.bike_file != other.bike_file:
                found.append(
                    f"lines {other.line} and {one.line}: {one.label} stands there with two bikes: give each bike "
                    "a label of its own"
                )
    return found


def _plain(text: str) -> str:
    return " ".join(text.split()).lower()

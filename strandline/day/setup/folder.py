"""A new day's folder: the roster, the entrants' cards to print, and places for photos and bikes' files."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from ridelog.regular_file import read_regular
from strandline.day.errors import DayError
from strandline.day.identify.roster import FILE as ROSTER
from strandline.day.identify.roster import folded
from strandline.day.setup.label_fonts import PLAIN, font_for, shaping_font_for
from strandline.shared.files import OutputError, make_folder, write_new

CARDS = "cards.pdf"
PHOTOS, BIKES = "photos", "bikes"
# A name on a card; longer ones are cut there anyway.
LONGEST_LABEL = 60
_TAG_SETS = 7


@dataclass(frozen=True)
class Line:
    """One entrant's line of the new roster."""

    card: int
    label: str
    bike: str
    start: str = ""
    stop: str = ""


@dataclass(frozen=True)
class Made:
    """Result of making a day's folder.

    Attributes
    ----------
    lines : tuple of Line
    by_hand : tuple of str
        Labels that no font here can print: they are to be written on their cards by hand.
    """

    lines: tuple[Line, ...]
    by_hand: tuple[str, ...]


LARGEST_BYTES = 1_000_000  # as of the roster that is made of it


def entrants_in(path: Path) -> tuple[str, ...]:
    """Read labels from a text file, one per line.

    Raises
    ------
    DayError
        It cannot be read, is empty, or names somebody twice.
    """
    try:
        text = read_regular(path, LARGEST_BYTES).decode("utf-8-sig")
    except OSError as error:
        raise DayError(f"{path} cannot be read: {error.strerror}.", "Name a text file.") from error
    except UnicodeDecodeError as error:
        raise DayError(f"{path} is not UTF-8 text.", "Save it as UTF-8 in your editor.") from error
    return checked(tuple(" ".join(line.split()) for line in text.splitlines() if line.strip()))


def checked(labels: tuple[str, ...]) -> tuple[str, ...]:
    """Check that labels are short names, each once.

    Raises
    ------
    DayError
    """
    seen: set[str] = set()
    for label in labels:
        if len(label) > LONGEST_LABEL or not label.isprintable():
            raise DayError(
                f"“{label[:LONGEST_LABEL]}” cannot be a label.",
                f"Write one name per line, at most {LONGEST_LABEL} letters.",
            )
        if folded(label) in seen:
            raise DayError(f"{label} is listed twice.", "Give each bike a label of its own.")
        seen.add(folded(label))
    if not labels:
        raise DayError("There are no entrants.", "Write their names into a text file, one per line.")
    return labels


def plan(labels: tuple[str, ...], first: dt.time, last: dt.time) -> tuple[Line, ...]:
    """Give each entrant a card, and where there are more entrants than cards, a part of the day.

    Parameters
    ----------
    labels : tuple of str
    first, last : time
        Of the day; used only where the cards do not suffice.

    Returns
    -------
    tuple of Line

    Raises
    ------
    DayError
        The day is too short to part.
    """
    from calibration.card import CARD_COUNT

    rounds = -(-len(labels) // CARD_COUNT)
    start, stop = (60 * one.hour + one.minute for one in (first, last))
    if rounds > 1 and stop - start < rounds:
        raise DayError("The day is too short for so many entrants.", "Make it longer with --from and --to.")
    each = (stop - start) // rounds
    size = -(-len(labels) // rounds)
    names = _file_names(labels)
    lines = []
    for number, (label, name) in enumerate(zip(labels, names, strict=True)):
        part, card = divmod(number, size)
        window = ("", "")
        if rounds > 1:
            ends = start + part * each, stop if part == rounds - 1 else start + (part + 1) * each
            window = (_clock(ends[0]), _clock(ends[1]))
        lines.append(Line(card, label, f"{BIKES}/{name}.toml", *window))
    return tuple(lines)


def new_day(folder: Path, lines: tuple[Line, ...], paper: str, *, force: bool = False) -> Made:
    """Make the day's folder.

    Parameters
    ----------
    folder : Path
        Other files in it are left alone.
    lines : tuple of Line
    paper : str
        A key of `calibration.sheet_layout.PAPERS`.
    force : bool
        Replace a roster and cards that are there already.

    Raises
    ------
    DayError
    """
    from calibration.card_drawing import Label
    from calibration.sheet import draw_sheets
    from calibration.sheet_layout import PAPERS

    labels, by_hand = [], []
    for line in lines:
        window = f" {line.start}–{line.stop}" if line.start else ""
        font, file = font_for(line.label), None
        if font is None:
            file = shaping_font_for(line.label + window)
        if font is None and file is None:
            by_hand.append(line.label)
            labels.append(Label(window))
        else:
            labels.append(Label(line.label + window, font or PLAIN, file))
    cards = draw_sheets([line.card for line in lines], PAPERS[paper], labels, tag_sets=_TAG_SETS)
    try:
        for place in (folder, folder / PHOTOS, folder / BIKES):
            make_folder(place)
        for name in (ROSTER, CARDS):
            if (folder / name).exists() and not force:
                raise OutputError(
                    f"{folder / name} is there already and was left as it is. Name another folder, or add --force."
                )
        write_new(folder / CARDS, cards, force=force)
        write_new(folder / ROSTER, roster_csv(lines).encode("utf-8-sig"), force=force)
    except OutputError as error:
        raise DayError(str(error), "Nothing was replaced.") from error
    return Made(lines, tuple(by_hand))


def roster_csv(lines: tuple[Line, ...]) -> str:
    """Write the roster as `strandline.day.identify.roster_file.read_roster` reads it."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(["card", "label", "bike", "end", "side", "from", "to", "note"])
    for line in lines:
        writer.writerow([line.card, line.label, line.bike, "", "", line.start, line.stop, ""])
    return out.getvalue()


def _file_names(labels: tuple[str, ...]) -> list[str]:
    """Make names for bikes' files that every system takes, each once."""
    names: list[str] = []
    for number, label in enumerate(labels, start=1):
        letters = unicodedata.normalize("NFKD", label.casefold()).encode("ascii", "ignore").decode()
        plain = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")
        names.append(f"{number:02d}-{plain}" if plain else f"{number:02d}")
    return names


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"

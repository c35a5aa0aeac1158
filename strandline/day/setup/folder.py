"""A new day's folder: the roster, the entrants' cards to print, and places for photos and bikes' files."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from pathlib import Path

from ridelog.regular_file import read_regular
from strandline.day.errors import DayError
from strandline.day.identify.roster import FILE as ROSTER
from strandline.day.identify.roster import folded
from strandline.day.identify.roster_cells import head_of
from strandline.day.identify.roster_line import RosterLine
from strandline.day.identify.roster_table import roster_csv, roster_lines
from strandline.day.identify.window import Window
from strandline.day.setup.label_fonts import PLAIN, font_for, shaping_font_for
from strandline.shared.files import OutputError, make_folder, write_new
from suspension.stroke.leg import Layout

CARDS = "cards.pdf"
PHOTOS, BIKES = "photos", "bikes"
# A name on a card; longer ones are cut there anyway.
LONGEST_LABEL = 60
_TAG_SETS = 7


@dataclass(frozen=True)
class Made:
    """Result of making a day's folder.

    Attributes
    ----------
    lines : tuple of RosterLine
    by_hand : tuple of str
        Labels that no font here can print: they are to be written on their cards by hand.
    """

    lines: tuple[RosterLine, ...]
    by_hand: tuple[str, ...]

    @property
    def labels(self) -> tuple[str, ...]:
        """Every entrant once."""
        return tuple(dict.fromkeys(line.label for line in self.lines))


LARGEST_BYTES = 1_000_000  # as of the roster that is made of it


def entrants_in(path: Path) -> tuple[RosterLine, ...]:
    """Read who is coming: a text file with a name per line, or a table with the roster's columns.

    Raises
    ------
    DayError
        It cannot be read, is empty, or names somebody twice.
    """
    try:
        content = read_regular(path, LARGEST_BYTES)
        text = content.decode("utf-8-sig")
    except OSError as error:
        raise DayError(
            f"{path} cannot be read: {error.strerror}.", "Name a text file or a table (CSV)."
        ) from error
    except UnicodeDecodeError as error:
        raise DayError(f"{path} is not UTF-8 text.", "Save it as UTF-8 in your editor.") from error
    first = text.lstrip().partition("\n")[0]
    heads = {head_of(one) for one in re.split("[,;\t]", first)}
    if len(heads) > 1 and "label" in heads:
        return checked_lines(roster_lines(content, str(path), needed=("label",)))
    labels = checked(tuple(" ".join(line.split()) for line in text.splitlines() if line.strip()))
    return lines_to_fill(labels)


def lines_to_fill(labels: tuple[str, ...]) -> tuple[RosterLine, ...]:
    """Give each entrant two lines to fill: one for the fork, one for the shock."""
    return tuple(RosterLine(None, label, kind) for label in labels for kind in (Layout.FORK, Layout.SHOCK))


def checked_lines(lines: tuple[RosterLine, ...]) -> tuple[RosterLine, ...]:
    """Check that lines have short names, one for each entrant.

    Raises
    ------
    DayError
    """
    checked(tuple(dict.fromkeys(line.label for line in lines)))
    return lines


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


def plan(lines: tuple[RosterLine, ...], first: dt.time, last: dt.time) -> tuple[RosterLine, ...]:
    """Give each entrant a card, and where there are more entrants than cards, a part of the day.

    Parameters
    ----------
    lines : tuple of RosterLine
        Where all have a card already they stay as they are.
    first, last : time
        Of the day; used only where the cards do not suffice.

    Returns
    -------
    tuple of RosterLine

    Raises
    ------
    DayError
        The day is too short to part, or only some lines have a card.
    """
    from calibration.card import CARD_COUNT

    given = [line.card is not None for line in lines]
    if all(given):
        return lines
    if any(given):
        raise DayError(
            "Some lines have a card's number and some have none.",
            "Fill the column card in all lines, or leave it empty in all.",
        )
    labels = tuple(dict.fromkeys(line.label for line in lines))
    rounds = -(-len(labels) // CARD_COUNT)
    start, stop = (60 * one.hour + one.minute for one in (first, last))
    if rounds > 1 and stop - start < rounds:
        raise DayError("The day is too short for so many entrants.", "Make it longer with --from and --to.")
    each = (stop - start) // rounds
    size = -(-len(labels) // rounds)
    places = {label: divmod(number, size) for number, label in enumerate(labels)}
    found = []
    for line in lines:
        part, card = places[line.label]
        window = line.window
        if rounds > 1:
            ends = start + part * each, stop if part == rounds - 1 else start + (part + 1) * each
            window = Window(None, *map(_clock, ends))
        found.append(replace(line, card=card, window=window))
    return tuple(found)


def new_day(folder: Path, lines: tuple[RosterLine, ...], paper: str, *, force: bool = False) -> Made:
    """Make the day's folder.

    Parameters
    ----------
    folder : Path
        Other files in it are left alone.
    lines : tuple of RosterLine
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

    labels, by_hand, cards_of = [], [], []
    for line in {(line.card, line.entrant, line.window): line for line in lines}.values():
        assert line.card is not None
        window = "" if line.window.is_open else f" {line.window}"
        font, file = font_for(line.label), None
        if font is None:
            file = shaping_font_for(line.label + window)
        if font is None and file is None:
            by_hand.append(line.label)
            labels.append(Label(window))
        else:
            labels.append(Label(line.label + window, font or PLAIN, file))
        cards_of.append(line.card)
    cards = draw_sheets(cards_of, PAPERS[paper], labels, tag_sets=_TAG_SETS)
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


def _clock(minutes: int) -> dt.time:
    return dt.time(minutes // 60, minutes % 60)

"""The roster's table: CSV as spreadsheets write it, with commas, semicolons or tabs, to lines and back."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from strandline.day.errors import DayError
from strandline.day.identify.roster_cells import COLUMNS, NEEDED, cells_of, head_of, line_of
from strandline.day.identify.roster_line import RosterLine

_AS_CSV = "Save it from the spreadsheet as “CSV UTF-8”."


def roster_csv(lines: Sequence[RosterLine]) -> str:
    """Write lines as a table (RFC 4180) that `roster_lines` reads and a spreadsheet opens.

    Written to a file with a byte order mark (``utf-8-sig``), by which spreadsheets know UTF-8.
    """
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows(cells_of(line) for line in lines)
    return out.getvalue()


def roster_lines(content: bytes, name: str, needed: Sequence[str] = NEEDED) -> tuple[RosterLine, ...]:
    """Read a roster's lines.

    Parameters
    ----------
    content : bytes
        CSV with a head, UTF-8 with or without a byte order mark.
    name : str
        What messages call it: "The roster day/roster.csv".
    needed : sequence of str
        Columns that no line may leave empty.

    Raises
    ------
    DayError
        Everything that is wrong, with lines.
    """
    problems, lines = [], []
    for number, row in _rows(content, name, needed):
        try:
            for column in needed:
                if not row.get(column):
                    raise ValueError(f"the column {column} is empty")
            lines.append(line_of(row, number))
        except ValueError as error:
            problems.append(f"line {number}: {error}")
    if problems:
        raise has_problems(name, problems)
    return tuple(lines)


def has_problems(name: str, problems: Sequence[str]) -> DayError:
    """Give an error that lists everything wrong in a roster."""
    listed = "\n  ".join(problems)
    return DayError(f"{name} has problems:\n  {listed}\n", "Fix these lines and run this again.")


def _rows(content: bytes, name: str, needed: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Split the file into lines with anything in them, as values by column."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise DayError(f"{name} is not UTF-8 text (line {line}).", _AS_CSV) from error
    skipped = 0
    if text[:4].lower() == "sep=":  # a spreadsheet's own note of the separator
        _, _, text = text.partition("\n")
        skipped = 1
    first = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count))
    try:
        head = [head_of(one) for one in next(reader, [])]
        _check_head(head, name, needed)
        rows = []
        for cells in reader:
            row = {column: cell.strip() for column, cell in zip(head, cells, strict=False) if column}
            if any(row.values()):
                rows.append((reader.line_num + skipped, row))
    except csv.Error as error:
        raise DayError(
            f"{name} cannot be read as CSV in line {reader.line_num + skipped} ({error}).", _AS_CSV
        ) from error
    return rows


def _check_head(head: Sequence[str], name: str, needed: Sequence[str]) -> None:
    wrong = [one for one in head if one and one not in COLUMNS]
    missing = [one for one in needed if one not in head]
    named = [one for one in head if one]
    if not wrong and not missing and len(set(named)) == len(named):
        return
    what = f"has no column {missing[0]}" if missing else "has a column that is not known, or one twice"
    said = f" ({', '.join(wrong)})" if wrong else ""
    raise DayError(f"{name} {what}{said}.", f"Its first line may have the columns {', '.join(COLUMNS)}.")

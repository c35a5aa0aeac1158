"""Rows that the schema takes and the reading commands cannot use: found before an import, by a check, by a repair."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from ridelog.bikes.file import parse_bike
from ridelog.errors import LogbookError
from ridelog.storage.records import Provenance, Reading
from ridelog.storage.rides import refuse_contradictions
from ridelog.storage.rows import TABLES, record, select_with_provenance
from suspension.errors import SuspensionError

LARGEST_NUMBER = 2**53
"""Of a ride: the largest integer that every program reads back from JSON as it is (RFC 8259, section 6)."""

LONGEST_TEXT = 10_000
"""Characters of a route, a note or a name: some five pages. A bike's file has a limit of its own."""


@dataclass(frozen=True)
class BadRow:
    """A row that cannot be used.

    Attributes
    ----------
    check : str
        The part of `logbook check` that finds it.
    table : str
    rowid : int
    what : str
        What is wrong, led by the row's name; without a full stop.
    """

    check: str
    table: str
    rowid: int
    what: str


def bad_rows(connection: sqlite3.Connection) -> list[BadRow]:
    """Find all rows that cannot be used, by reading each as the commands do.

    Parameters
    ----------
    connection : sqlite3.Connection
        At this program's schema version.
    """
    found = [*_values(connection), *_records(connection), *_bikes(connection)]
    seen: set[tuple[str, int]] = set()
    return [
        one
        for one in found
        if (one.table, one.rowid) not in seen and not seen.add((one.table, one.rowid))  # type: ignore[func-returns-value]
    ]


def _values(connection: sqlite3.Connection) -> Iterator[BadRow]:
    """Numbers that are none or too large, and texts without end, whatever their column."""
    tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    for (table,) in tables:
        for row in connection.execute(f'SELECT rowid AS row_number, * FROM "{table}"'):
            name = f"{table} {row['id'] if 'id' in row.keys() else row['row_number']}"  # noqa: SIM118
            for column in row.keys():  # noqa: SIM118
                value = row[column]
                if isinstance(value, float) and not math.isfinite(value):
                    yield BadRow("rows", table, row["row_number"], f"{name}: {column} is no finite number")
                elif isinstance(value, str) and column != "toml" and len(value) > LONGEST_TEXT:
                    what = f"{name}: {column} has {len(value)} characters, more than {LONGEST_TEXT}"
                    yield BadRow("rows", table, row["row_number"], what)
            if table == "ride" and row["number"] > LARGEST_NUMBER:
                what = f"ride {row['id']}: its number {row['number']} is too large"
                yield BadRow("rows", table, row["row_number"], what)


def _records(connection: sqlite3.Connection) -> Iterator[BadRow]:
    for kind, table in TABLES.items():
        numbers = {
            row["id"]: row["row_number"]
            for row in connection.execute(f"SELECT rowid AS row_number, id FROM {table}")
        }
        if kind is Provenance:
            continue  # read with each of the others
        for row in connection.execute(select_with_provenance(kind, "TRUE")):
            check = "readings" if kind is Reading else "rows"
            try:
                made: object = record(kind, row)
                if isinstance(made, Reading):
                    refuse_contradictions(made)
            except (LogbookError, SuspensionError) as error:
                named = f"{table} {row['id']}"
                what = error.message if error.message.startswith(named) else f"{named}: {error.message}"
                yield BadRow(check, table, numbers[row["id"]], what.rstrip("."))


def _bikes(connection: sqlite3.Connection) -> Iterator[BadRow]:
    rows = connection.execute(
        "SELECT bike_version.rowid AS row_number, bike.name, toml FROM bike_version JOIN bike ON bike.id = bike_id"
    )
    for row in rows:
        try:
            parse_bike(row["toml"], row["name"])
        except LogbookError as error:
            what = f"{row['name']}: {error.message}".rstrip(".")
            yield BadRow("bikes", "bike_version", row["row_number"], what)

"""A sound copy of a logbook in which something cannot be used, without what cannot."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from ridelog.errors import TransferError
from ridelog.storage.backup import refuse_itself, write_copy
from ridelog.storage.check import check
from ridelog.storage.connection import migrate, open_raw, snapshot, translate_sqlite_errors
from ridelog.storage.readable import LARGEST_NUMBER, bad_rows
from ridelog.storage.rows import insert
from ridelog.storage.store import Logbook
from ridelog.transfer.document import TABLES, Row

# Each round leaves out what the one before made useless; three levels of tables hang from each other.
_ROUNDS = 10


@dataclass(frozen=True)
class Repaired:
    """What a repair did.

    Attributes
    ----------
    kept : int
        Rows in the copy.
    left_out : tuple of str
        Rows that are not in it, and why.
    changed : tuple of str
        Rows that are in it with another number, or as a correction of another row.
    remaining : tuple of str
        What a check of the copy still finds, none of which keeps it from being read.
    """

    kept: int
    left_out: tuple[str, ...]
    changed: tuple[str, ...]
    remaining: tuple[str, ...]


def repair(logbook: Logbook, target: Path, *, force: bool) -> Repaired:
    """Write a copy that every command can read; the logbook itself is left as it is.

    Parameters
    ----------
    logbook : Logbook
    target : Path
    force : bool
        Replace what is there.

    Raises
    ------
    TransferError
        The copy cannot be written.
    FileError
    """
    refuse_itself(logbook.path, target)
    left_out: list[str] = []
    with translate_sqlite_errors(logbook.path), snapshot(logbook.connection):
        tables = {table: _rows(logbook.connection, table, left_out) for table in TABLES}
    changed = _renumber(tables["ride"])
    for _ in range(_ROUNDS):
        with closing(open_raw(":memory:")) as copy:
            migrate(copy)
            refused = _fill(copy, tables)
            drop = {**refused, **{(one.table, one.rowid): one.what for one in bad_rows(copy)}}
            for row in copy.execute(
                "SELECT rowid, number FROM ride WHERE NOT EXISTS (SELECT 1 FROM ride_entry WHERE ride_id = ride.id)"
            ):
                drop["ride", row[0]] = f"ride {row[1]} has no facts"
            if not drop:
                report = check(Logbook(copy, target))
                write_copy(copy, target, force=force)
                return Repaired(
                    sum(map(len, tables.values())),
                    tuple(left_out),
                    tuple(changed),
                    tuple(f"{one.check}: {one.what}" for one in report.findings),
                )
        left_out += drop.values()
        changed += _without(tables, set(drop))
    raise TransferError(f"{logbook.path} cannot be repaired.", "Go on from your latest backup.")


def _rows(connection: sqlite3.Connection, table: str, left_out: list[str]) -> dict[int, Row]:
    """Read a table's rows, as far as the file can be read."""
    found: dict[int, Row] = {}
    try:
        for number, row in enumerate(connection.execute(f"SELECT * FROM {table} ORDER BY rowid"), start=1):
            found[number] = dict(row)
    except sqlite3.DatabaseError as error:
        left_out.append(f"{table}: the file is damaged after {len(found)} rows ({error})")
    return found


def _renumber(rides: dict[int, Row]) -> list[str]:
    """Give rides whose number is too large the next free ones."""
    said = []
    free = max((row["number"] for row in rides.values() if row["number"] <= LARGEST_NUMBER), default=0) + 1
    for row in rides.values():
        if row["number"] > LARGEST_NUMBER:
            said.append(f"ride {row['number']} is ride {free} in the copy")
            row["number"], free = free, free + 1
    return said


def _fill(copy: sqlite3.Connection, tables: dict[str, dict[int, Row]]) -> dict[tuple[str, int], str]:
    """Put the rows into an empty logbook, under their numbers; return those that its schema refuses."""
    refused = {}
    for table, rows in tables.items():
        for number, row in rows.items():
            try:
                insert(copy, table, {"rowid": number, **row})
            except sqlite3.Error as error:
                refused[table, number] = f"{table} {row.get('id', number)} cannot stand without it ({error})"
    return refused


def _without(tables: dict[str, dict[int, Row]], drop: set[tuple[str, int]]) -> list[str]:
    """Take rows out; what corrected one of them then corrects what that one corrected."""
    said = []
    for table, number in drop:
        gone = tables[table].pop(number)
        for row in tables[table].values():
            if "replaces" in gone and row["replaces"] == gone["id"]:
                row["replaces"] = gone["replaces"]
                said.append(f"{table} {row['id']} takes the place of {table} {gone['id']}")
    return said

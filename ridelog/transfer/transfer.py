"""Logbooks as documents: all rows of all tables, out and in again without loss.

What comes in is first put into a database in memory at the version that it was written by, where the schema checks
every row; brought to this version by the same migrations as a file; and then merged row by row. Rows are known by
their identifiers, so importing the same document twice changes nothing, and two logbooks can be put together.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ridelog.errors import TransferError
from ridelog.regular_file import is_folder
from ridelog.storage.connection import (
    VERSION,
    migrate,
    open_raw,
    snapshot,
    transaction,
    translate_sqlite_errors,
)
from ridelog.storage.readable import bad_rows
from ridelog.storage.rows import insert
from ridelog.storage.store import Logbook
from ridelog.transfer.as_csv import read_csv
from ridelog.transfer.as_json import read_json
from ridelog.transfer.document import TABLES, Document, Row
from ridelog.transfer.joined_loads import join_loads

_KEYS = {
    "felt": ("ride_entry_id", "word"),
    "felt_end": ("ride_entry_id", "word", "axle"),
    "event": ("ride_entry_id", "what", "words"),
}


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Attributes
    ----------
    added, known : int
        Rows that were new, and rows that were there already.
    renumbered : tuple of (int, int)
        Rides that had a number which is taken here: theirs, and the one they got.
    joined_loads : tuple of str
        Load cases of the same name here and there, which are one now.
    """

    added: int
    known: int
    renumbered: tuple[tuple[int, int], ...]
    joined_loads: tuple[str, ...] = ()


def export(logbook: Logbook) -> Document:
    """Take all rows out, as of one moment."""
    with translate_sqlite_errors(logbook.path), snapshot(logbook.connection):
        return Document(VERSION, _rows(logbook.connection))


def import_(logbook: Logbook, document: Document) -> Imported:
    """Put a document's rows in, all or none.

    Parameters
    ----------
    logbook : Logbook
    document : Document

    Returns
    -------
    Imported

    Raises
    ------
    TransferError
        A document of a newer version, one that the schema refuses, or rows that contradict those here.
    """
    if not 1 <= document.version <= VERSION:
        raise TransferError(
            f"The document has schema version {document.version}; 1 to {VERSION} can be taken.",
            "Use the Strandline that wrote it, or a newer one.",
        )
    with closing(open_raw(":memory:")) as staging:
        migrate(staging, to=document.version)
        _stage(staging, document)
        migrate(staging)
        bad = bad_rows(staging)
        if bad:
            raise TransferError(
                f"The document holds {len(bad)} {'rows' if len(bad) > 1 else 'row'} that no command could read: "
                f"{bad[0].what}.",
                "Export it anew from a logbook that strandline logbook check finds sound; strandline logbook repair "
                "makes one.",
            )
        tables = _rows(staging)
    with translate_sqlite_errors(logbook.path), transaction(logbook.connection):
        return _merge(logbook.connection, tables)


def _rows(connection: sqlite3.Connection) -> dict[str, list[Row]]:
    return {
        table: [dict(row) for row in connection.execute(f"SELECT * FROM {table} ORDER BY rowid")]
        for table in TABLES
    }


def _stage(staging: sqlite3.Connection, document: Document) -> None:
    """Put the document's rows into an empty database; the schema refuses what is not right."""
    known = {row[0] for row in staging.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    strange = document.tables.keys() - known
    if strange:
        raise TransferError(f"The document has unknown tables: {_listed(strange)}.", "Export it anew.")
    for table in TABLES:
        columns = {row["name"] for row in staging.execute(f"PRAGMA table_info({table})")}
        for number, row in enumerate(document.tables.get(table, ()), start=1):
            if row.keys() != columns:
                wrong = _listed(row.keys() ^ columns)
                raise TransferError(
                    f"In {table}, row {number}, columns do not fit: {wrong}.", "Export it anew."
                )
            try:
                insert(staging, table, row)
            except sqlite3.Error as error:
                raise TransferError(
                    f"In {table}, row {number} cannot be taken ({error}).", "Export it anew."
                ) from error
            except (UnicodeEncodeError, OverflowError) as error:
                raise TransferError(
                    f"In {table}, row {number} cannot be taken: it holds a value that cannot be stored.",
                    "Export it anew.",
                ) from error


def _merge(connection: sqlite3.Connection, tables: dict[str, list[Row]]) -> Imported:
    """Put rows in that are new; those that are there are found by one query a table."""
    added = 0
    renumbered = []
    here_loads = [dict(row) for row in connection.execute("SELECT * FROM load_case ORDER BY rowid")]
    joined = join_loads(tables, here_loads)
    known = len(tables.get("load_case", ())) - len(joined.tables["load_case"])
    for table, rows in joined.tables.items():
        keys = _KEYS.get(table, ("id",))
        there = {_key(row, keys): dict(row) for row in connection.execute(f"SELECT * FROM {table}")}
        numbers = {row["number"] for row in there.values()} if table == "ride" else set()
        for row in rows:
            here = there.get(_key(row, keys))
            if here is not None:
                _refuse_another(table, here, row, joined.changed)
                known += 1
                continue
            if table == "ride":
                if row["number"] in numbers:
                    free = max(numbers) + 1
                    renumbered.append((row["number"], free))
                    row = {**row, "number": free}
                numbers.add(row["number"])
            try:
                insert(connection, table, row)
            except sqlite3.IntegrityError as error:
                raise TransferError(
                    f"A row of {table} contradicts what the logbook holds ({error}).",
                    "Both have a bike of the same name, or corrected the same row: import into a new logbook.",
                ) from error
            added += 1
    return Imported(added, known, tuple(renumbered), joined.names)


def _key(row: Mapping[str, Any] | sqlite3.Row, keys: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(row[key] for key in keys)


def _refuse_another(table: str, here: Row, row: Row, joined: Collection[str]) -> None:
    """Refuse a row that has the identifier of one here and says something else; numbers are local.

    So is, of rows that were `joined` to a load case here, which one that is.
    """
    local = {("ride", "number")}
    if here.get("id") in joined:
        local |= {(table, "load_case_id"), ("load_case", "replaces")}
    differ = [key for key in here if here[key] != row[key] and (table, key) not in local]
    if differ:
        raise TransferError(
            f"{table} {here.get('id', '')} says something else here in {_listed(differ)}.",
            "One of the two was changed by other means than this program: check both.",
        )


def _listed(words: Iterable[str]) -> str:
    return ", ".join(sorted(words))


def read_document(path: Path) -> Document:
    """Read what was exported: a JSON file, or a folder of CSV files.

    Raises
    ------
    TransferError
    """
    return read_csv(path) if is_folder(path) else read_json(path)

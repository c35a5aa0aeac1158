"""A logbook as a folder of CSV files (RFC 4180), one a table, for spreadsheets and other programs.

An empty cell is "not known": no text in a logbook is empty, so nothing is lost. Numbers are written so that they
read back to the last bit. `about.csv` says what the folder is.
"""

from __future__ import annotations

import csv
import io
import math
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from ridelog.errors import TransferError
from ridelog.regular_file import read_regular
from ridelog.storage.connection import VERSION, migrate, open_raw
from ridelog.transfer.document import LARGEST_BYTES, TABLES, Document, Row
from suspension.quantities.grammar import quote

ABOUT = "about.csv"
KIND = "strandline logbook"
FOR_SPREADSHEET = "strandline logbook for spreadsheets"

# What a spreadsheet takes for the start of a formula (OWASP, CSV injection).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")

# ASCII alone: int() and float() take digits of all scripts, underlines, "nan" and "infinity".
_VERSION = re.compile(r"[0-9]{1,6}")
_NUMBERS = {
    "INTEGER": (int, re.compile(r"-?[0-9]{1,19}")),  # SQLite's integers have 64 bits
    "REAL": (float, re.compile(r"[+-]?(?=[0-9.])[0-9]{0,400}(\.[0-9]{0,400})?([eE][+-]?[0-9]{1,4})?")),
}


def without_formulas(cell: object) -> object:
    """Quote a text that a spreadsheet would run as a formula; numbers stay numbers."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def to_csv(document: Document, program_version: str, *, for_spreadsheet: bool = False) -> dict[str, str]:
    """Write a document as CSV texts.

    Parameters
    ----------
    document : Document
    program_version : str
    for_spreadsheet : bool
        Texts that begin as a formula get an apostrophe before them; such files cannot be imported.

    Returns
    -------
    dict of str to str
        File names and their contents; every table has its file, though it may have no rows.
    """
    kind = FOR_SPREADSHEET if for_spreadsheet else KIND
    about = [("kind", "schema_version", "program_version"), (kind, document.version, program_version)]
    files = {ABOUT: _text(about)}
    for table, columns in _columns(document.version).items():
        rows = [
            [_cell(without_formulas(row[name]) if for_spreadsheet else row[name]) for name in columns]
            for row in document.tables[table]
        ]
        files[f"{table}.csv"] = _text([list(columns), *rows])
    return files


def read_csv(folder: Path) -> Document:
    """Read a folder of CSV files.

    Raises
    ------
    TransferError
        Not such a folder, or a cell that is not of its column's type; the file and line are named.
    """
    about = _read(folder / ABOUT)
    if about and about[0].get("kind") == FOR_SPREADSHEET:
        raise TransferError(
            f"{folder} was exported for spreadsheets, with apostrophes before what looks like a formula.",
            "Export it again without --for-spreadsheet.",
        )
    if (
        not about
        or about[0].get("kind") != KIND
        or not _VERSION.fullmatch(about[0].get("schema_version") or "")
    ):
        raise TransferError(
            f"{folder / ABOUT} does not say that this is a logbook.", "Name a folder that was exported."
        )
    version = int(about[0]["schema_version"])
    if not 1 <= version <= VERSION:
        return Document(version, {})  # refused with its reason where it is imported
    tables = {}
    for table, columns in _columns(version).items():
        path = folder / f"{table}.csv"
        rows: list[Row] = []
        for number, cells in enumerate(_read(path), start=2):
            if cells.keys() != columns.keys():
                wrong = ", ".join(sorted(str(key) for key in cells.keys() ^ columns.keys()))
                raise TransferError(f"{path}, row {number}: columns do not fit: {wrong}.", "Export it anew.")
            short = [name for name in columns if cells[name] is None]
            if short:
                raise TransferError(
                    f"{path}, row {number} is too short: it has no {short[0]}.", "Export it anew."
                )
            rows.append(
                {name: _value(cells[name], kind, path, number, name) for name, kind in columns.items()}
            )
        tables[table] = rows
    return Document(version, tables)


def _columns(version: int) -> dict[str, dict[str, str]]:
    """Columns of each table and their types, from the schema itself."""
    with closing(open_raw(":memory:")) as empty:
        migrate(empty, to=version)
        found = {table: _of_table(empty, table) for table in TABLES}
    return {table: columns for table, columns in found.items() if columns}


def _of_table(connection: sqlite3.Connection, table: str) -> dict[str, str]:
    return {row["name"]: row["type"] for row in connection.execute(f"PRAGMA table_info({table})")}


def _cell(value: Any) -> str:
    return "" if value is None else repr(value) if isinstance(value, float) else str(value)


def _value(cell: str, kind: str, path: Path, number: int, name: str) -> Any:
    if cell == "":
        return None
    if kind not in _NUMBERS:
        return cell
    read, pattern = _NUMBERS[kind]
    try:
        value = read(cell) if pattern.fullmatch(cell) else math.nan
    except ValueError:  # a lone point
        value = math.nan
    if not math.isfinite(value):
        raise TransferError(
            f"{path}, row {number}: {quote(cell[:40])} is no number for {name}.",
            "Write a plain number, with digits 0 to 9.",
        )
    return value


def _text(rows: list[Any]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue()


def _read(path: Path) -> list[dict[str, str]]:
    csv.field_size_limit(10_000_000)  # a bike's whole file is one cell
    try:
        text = read_regular(path, LARGEST_BYTES).decode("utf-8-sig")  # spreadsheets add a byte-order mark
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        return list(reader)
    except OSError as error:
        raise TransferError(
            f"{path} cannot be read: {error.strerror}.", "Name a folder that was exported."
        ) from error
    except UnicodeDecodeError as error:
        raise TransferError(f"{path} is not UTF-8 text.", "Export it anew.") from error
    except csv.Error as error:
        raise TransferError(
            f"{path} is not CSV: see its line {reader.line_num}.", "Export it anew."
        ) from error

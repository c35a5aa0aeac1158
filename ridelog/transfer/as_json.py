"""A logbook as one JSON document (RFC 8259): numbers to their last bit, text as it is."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from ridelog.errors import TransferError
from ridelog.regular_file import read_regular
from ridelog.transfer.document import LARGEST_BYTES, Document

KIND = "strandline logbook"


def to_json(document: Document, program_version: str) -> str:
    """Write a document as JSON text."""
    whole = {
        "kind": KIND,
        "schema_version": document.version,
        "program_version": program_version,
        "tables": document.tables,
    }
    return json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def from_json(text: str, name: str) -> Document:
    """Read a document from JSON text.

    Raises
    ------
    TransferError
        Not JSON, or not a logbook.
    """
    try:
        whole = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        raise TransferError(
            f"{name} is not JSON: see its line {error.lineno}.", "Name a file that was exported."
        ) from error
    except (ValueError, RecursionError) as error:  # NaN and its like; lists in lists without end
        raise TransferError(
            f"{name} is not JSON as a logbook is written.", "Name a file that was exported."
        ) from error
    if (
        not isinstance(whole, dict)
        or whole.get("kind") != KIND
        or not isinstance(whole.get("schema_version"), int)
    ):
        raise TransferError(f"{name} is not a logbook in JSON.", "Name a file that was exported.")
    tables = whole.get("tables")
    if not isinstance(tables, dict) or not all(_is_rows(rows) for rows in tables.values()):
        raise TransferError(f"{name} holds no tables of rows.", "Export it anew.")
    return Document(whole["schema_version"], tables)


def read_json(path: Path) -> Document:
    """Read a JSON file; one with a byte order mark, as editors on Windows write it, too.

    Raises
    ------
    TransferError
    """
    try:
        return from_json(read_regular(path, LARGEST_BYTES).decode("utf-8-sig"), str(path))
    except OSError as error:
        raise TransferError(
            f"{path} cannot be read: {error.strerror}.", "Name a file that exists."
        ) from error
    except UnicodeDecodeError as error:
        raise TransferError(f"{path} is not UTF-8 text.", "Name a file that was exported.") from error


def _is_rows(rows: Any) -> bool:
    return isinstance(rows, list) and all(
        isinstance(row, dict) and all(_is_value(value) for value in row.values()) for row in rows
    )


def _is_value(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or (isinstance(value, str | int) and not isinstance(value, bool))


def _no_constant(word: str) -> None:
    raise ValueError(f"{word} is not JSON")

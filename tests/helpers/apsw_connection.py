"""A logbook's connection on APSW's SQLite in place of Python's, so that a test can stand between SQLite and the disk.

Python's own module cannot name a virtual file system that is written in Python. What the project calls of a
`sqlite3.Connection` is here, with the errors that it would raise. Both libraries must never open the same file at
once: each would drop the other's locks (SQLite, "How To Corrupt An SQLite Database File", 2.2.1).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import apsw

ERRORS: tuple[tuple[type[Exception], type[sqlite3.Error]], ...] = (
    (apsw.ConstraintError, sqlite3.IntegrityError),
    (apsw.CorruptError, sqlite3.DatabaseError),
    (apsw.NotADBError, sqlite3.DatabaseError),
    # Python's module calls nearly everything else an operational error (its util.c, `get_exception_class`).
    (apsw.Error, sqlite3.OperationalError),
)


@contextmanager
def as_python_raises() -> Iterator[None]:
    """Turn APSW's errors into those of Python's module, with SQLite's own words."""
    try:
        yield
    except apsw.Error as error:
        kind = next(theirs for ours, theirs in ERRORS if isinstance(error, ours))
        words = {10: "disk I/O error", 13: "database or disk is full", 14: "unable to open database file"}
        raise kind(words.get(getattr(error, "result", 0) & 255, str(error))) from error


class Row:
    """A row by the number or the name of its columns, as `sqlite3.Row`."""

    def __init__(self, names: Sequence[str], values: Sequence[Any]) -> None:
        self._names, self._values = names, values

    def keys(self) -> list[str]:
        """Names of the columns."""
        return list(self._names)

    def __getitem__(self, key: int | str) -> Any:
        return self._values[self._names.index(key) if isinstance(key, str) else key]

    def __iter__(self) -> Iterator[Any]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


class Cursor:
    """The answer to one statement, all of it."""

    def __init__(self, rows: list[Row]) -> None:
        self._rows = iter(rows)

    def fetchone(self) -> Row | None:
        """Give the next row, or None."""
        return next(self._rows, None)

    def fetchall(self) -> list[Row]:
        """Give all that are left."""
        return list(self._rows)

    def __iter__(self) -> Iterator[Row]:
        return self._rows


class Connection:
    """What the project uses of a connection.

    Parameters
    ----------
    path : Path or str
    vfs : str or None
        Name of a registered virtual file system.
    """

    def __init__(self, path: Path | str, vfs: str | None) -> None:
        with as_python_raises():
            self.own = apsw.Connection(str(path), vfs=None if str(path) == ":memory:" else vfs)
        self.row_factory: object = None

    def execute(self, statement: str, values: Any = ()) -> Cursor:
        """Run one statement to its end."""
        with as_python_raises():
            cursor = self.own.cursor()
            rows = []
            for found in cursor.execute(statement, values):
                rows.append(Row([one[0] for one in cursor.get_description()], found))
            return Cursor(rows)

    def executemany(self, statement: str, many: Iterable[Any]) -> None:
        """Run one statement once for each of the values."""
        for values in many:
            self.execute(statement, values)

    @property
    def in_transaction(self) -> bool:
        """Whether a transaction is open."""
        return self.own.in_transaction

    def backup(self, target: Connection) -> None:
        """Copy the database."""
        with as_python_raises():
            copying = target.own.backup("main", self.own, "main")
            try:
                copying.step(-1)
            finally:
                try:
                    copying.close(True)
                except SystemError as error:  # APSW's own, where the disk fails while a copy is given up
                    raise sqlite3.OperationalError("disk I/O error") from error

    def close(self) -> None:
        """Close it; what an error left open with it."""
        self.own.close(True)

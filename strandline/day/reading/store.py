"""The day's own file: every answer as soon as it is there, so that a run killed at any moment loses nothing.

One SQLite database. An answer is kept under the photo's content, what was stated about it and which program read
it; so neither a changed photo, a changed roster nor a changed program ever meets another's answers, and photos that
were renamed, moved or copied are not read again. Durability as the logbook's: `ridelog.storage.connection` says why.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import astuple
from pathlib import Path
from types import TracebackType
from typing import Any

from strandline.day.errors import DayError
from strandline.day.identify.sighting import Sighting
from strandline.day.reading.photo_files import FileStamp
from strandline.day.reading.records import Answer, Lost, ReadingRow

FILE = "day-state.sqlite"
LOCK = "day-state.lock"
APPLICATION_ID = 0x53446179  # "SDay"
VERSION = 1

_SCHEMA = """
CREATE TABLE file (
    path BLOB PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, ctime_ns INTEGER NOT NULL,
    inode INTEGER NOT NULL, sha256 TEXT NOT NULL
) STRICT;
CREATE TABLE sighting (
    sha256 TEXT, program TEXT, record TEXT NOT NULL, thumb BLOB, PRIMARY KEY (sha256, program)
) STRICT;
CREATE TABLE reading (
    sha256 TEXT, declared TEXT, program TEXT, record TEXT NOT NULL, picture BLOB,
    PRIMARY KEY (sha256, declared, program)
) STRICT;
CREATE TABLE lost (
    sha256 TEXT, roster TEXT, program TEXT, kind TEXT NOT NULL, what TEXT NOT NULL,
    PRIMARY KEY (sha256, roster, program)
) STRICT;
"""
# A table that came later: a file of before gets it when it is opened, and a program of before leaves it alone.
_LATER = """
CREATE TABLE IF NOT EXISTS small (
    sha256 TEXT, declared TEXT, program TEXT, picture BLOB NOT NULL, PRIMARY KEY (sha256, declared, program)
) STRICT
"""


class ResultsStore:
    """The open file; one run at a time has it.

    Parameters
    ----------
    folder : Path
        Of the results; it is there.
    program : str
        Which program reads; see `program_version`.

    Raises
    ------
    DayError
        Another run has it, it cannot be written, or it is another program's.
    """

    def __init__(self, folder: Path, program: str) -> None:
        self.path = folder / FILE
        self.program = program
        with self._errors_translated():
            self._lock = self._locked(folder / LOCK)
            try:
                self.connection = _opened(self.path)
            except BaseException:
                self._lock.close()
                raise

    def __enter__(self) -> ResultsStore:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file, and let another run have it."""
        self.connection.close()
        self._lock.close()

    def known_hash(self, path: Path, mark: FileStamp) -> str | None:
        """Content hash of a file that scans as it did when it was hashed."""
        with self._errors_translated():
            row = self.connection.execute(
                "SELECT sha256 FROM file WHERE (path, size, mtime_ns, ctime_ns, inode) = (?, ?, ?, ?, ?)",
                (os.fsencode(path), *astuple(mark)),
            ).fetchone()
        return None if row is None else str(row[0])

    def keep_hashes(self, hashes: list[tuple[Path, FileStamp, str]]) -> None:
        """Keep content hashes of files."""
        with self._errors_translated(), self._transaction():
            self.connection.executemany(
                "INSERT OR REPLACE INTO file VALUES (?, ?, ?, ?, ?, ?)",
                [(os.fsencode(path), *astuple(mark), sha256) for path, mark, sha256 in hashes],
            )

    def sighting(self, sha256: str) -> Sighting | None:
        """What this program saw in a photo."""
        row = self._one("SELECT record FROM sighting WHERE (sha256, program) = (?, ?)", sha256)
        return None if row is None else Sighting.from_text(row[0])

    def thumb(self, sha256: str) -> bytes | None:
        """The photo, small."""
        row = self._one("SELECT thumb FROM sighting WHERE (sha256, program) = (?, ?)", sha256)
        return None if row is None else row[0]

    def readings(self, sha256: str) -> dict[str, ReadingRow]:
        """This program's readings of a photo by what was stated, without pictures."""
        with self._errors_translated():
            rows = self.connection.execute(
                "SELECT declared, record FROM reading WHERE (sha256, program) = (?, ?)",
                (sha256, self.program),
            ).fetchall()
        return {declared: ReadingRow(declared, record, None) for declared, record in rows}

    def picture(self, sha256: str, declared: str) -> bytes | None:
        """The overlay of a reading."""
        row = self._one(
            "SELECT picture FROM reading WHERE (sha256, program, declared) = (?, ?, ?)", sha256, declared
        )
        return None if row is None else row[0]

    def small(self, sha256: str, declared: str) -> bytes | None:
        """The overlay of a reading, reduced, where that was made."""
        row = self._one(
            "SELECT picture FROM small WHERE (sha256, program, declared) = (?, ?, ?)", sha256, declared
        )
        return None if row is None else row[0]

    def small_picture_keys(self) -> set[tuple[str, str]]:
        """Of which readings, by photo and what was stated, there is a reduced overlay."""
        with self._errors_translated():
            rows = self.connection.execute(
                "SELECT sha256, declared FROM small WHERE program = ?", (self.program,)
            ).fetchall()
        return set(rows)

    def keep_small(self, pictures: list[tuple[str, str, bytes]]) -> None:
        """Keep reduced overlays, each by its photo and what was stated."""
        with self._errors_translated(), self._transaction():
            self.connection.executemany(
                "INSERT OR IGNORE INTO small VALUES (?, ?, ?, ?)",
                [(sha256, declared, self.program, picture) for sha256, declared, picture in pictures],
            )

    def lost(self, sha256: str, roster: str) -> Lost | None:
        """Whether a photo could not be read to the end under a roster."""
        row = self._one(
            "SELECT kind, what FROM lost WHERE (sha256, program, roster) = (?, ?, ?)", sha256, roster
        )
        return None if row is None else Lost(*row)

    def keep(self, sha256: str, answer: Answer) -> None:
        """Keep an answer, whole or not at all; what is kept already stays."""
        with self._errors_translated(), self._transaction():
            self.connection.execute(
                "INSERT OR IGNORE INTO sighting VALUES (?, ?, ?, ?)",
                (sha256, self.program, answer.sighting.as_text, answer.thumb),
            )
            self.connection.executemany(
                "INSERT OR IGNORE INTO reading VALUES (?, ?, ?, ?, ?)",
                [
                    (sha256, one.options_hash, self.program, one.record, one.picture)
                    for one in answer.readings
                ],
            )
            self.connection.execute(
                "DELETE FROM lost WHERE (sha256, program) = (?, ?)", (sha256, self.program)
            )

    def keep_lost(self, sha256: str, roster: str, lost: Lost) -> None:
        """Keep that there is no answer."""
        with self._errors_translated(), self._transaction():
            self.connection.execute(
                "INSERT OR REPLACE INTO lost VALUES (?, ?, ?, ?, ?)",
                (sha256, roster, self.program, lost.kind, lost.what),
            )

    def forget_lost(self) -> None:
        """Let all photos without an answer be tried again."""
        with self._errors_translated(), self._transaction():
            self.connection.execute("DELETE FROM lost WHERE program = ?", (self.program,))

    def _one(self, query: str, sha256: str, *values: str) -> tuple[Any, ...] | None:
        with self._errors_translated():
            found: tuple[Any, ...] | None = self.connection.execute(
                query, (sha256, self.program, *values)
            ).fetchone()
            return found

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            raise

    @contextmanager
    def _errors_translated(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.OperationalError as error:
            said = str(error)
            if "full" in said or "disk I/O" in said:
                raise DayError(
                    f"There is no room left to write {self.path} ({said}).",
                    "Free some space and start again: what was read so far is kept.",
                ) from error
            raise DayError(
                f"{self.path} cannot be written ({said}).", "Name a folder that you may write to with --out."
            ) from error
        except sqlite3.DatabaseError as error:
            raise DayError(
                f"{self.path} is damaged, or not this program's ({error}).",
                "Move it away and start again: all photos are then read anew.",
            ) from error

    def _locked(self, path: Path) -> sqlite3.Connection:
        """A lock that the system frees however this process ends."""
        lock = sqlite3.connect(path, timeout=0, isolation_level=None)
        try:
            lock.execute("PRAGMA locking_mode = EXCLUSIVE")
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            lock.close()
            if "locked" not in str(error):
                raise
            raise DayError(
                f"Another run is at work on {path.parent}.", "Wait for it, or end it first."
            ) from error
        return lock


def _opened(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=10, isolation_level=None)
    try:
        for setting in ("journal_mode = DELETE", "synchronous = EXTRA", "fullfsync = ON"):
            connection.execute(f"PRAGMA {setting}")
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version == 0 and not connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]:
            connection.execute("BEGIN IMMEDIATE")
            for statement in _SCHEMA.split(";"):
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {VERSION}")
            connection.execute("COMMIT")
        elif (
            version != VERSION or connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID
        ):
            raise sqlite3.DatabaseError(f"version {version}")
        connection.execute(_LATER)
    except BaseException:
        connection.close()
        raise
    return connection

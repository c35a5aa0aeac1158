"""The day's SQLite file: its tables, the lock against a second run, and its errors in words.

Durability as the logbook's: `ridelog.storage.connection` says why.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from strandline.day.errors import DayError
from strandline.shared.folder_lock import take_lock

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


@contextmanager
def errors_translated(path: Path) -> Iterator[None]:
    """Turn SQLite's errors on a file into the day's, with a remedy."""
    try:
        yield
    except sqlite3.OperationalError as error:
        said = str(error)
        if "full" in said or "disk I/O" in said:
            raise DayError(
                f"There is no room left to write {path} ({said}).",
                "Free some space and run this again: what was read so far is kept.",
            ) from error
        raise DayError(
            f"{path} cannot be written ({said}).", "Name a folder that you may write to with --output."
        ) from error
    except sqlite3.DatabaseError as error:
        raise DayError(
            f"{path} is damaged, or not this program's ({error}).",
            "Move it away and run this again: all photos are then read once more.",
        ) from error


def locked(path: Path) -> sqlite3.Connection:
    """Take a lock that the system frees however this process ends."""
    lock = take_lock(path)
    if lock is None:
        raise DayError(f"Another run is using {path.parent}.", "Wait until it is done, or stop it.")
    return lock


def opened(path: Path) -> sqlite3.Connection:
    """Open the day's file, or make it."""
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

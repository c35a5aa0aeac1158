"""Opening a logbook's file: one SQLite database that loses nothing once it has said yes.

Durability. The rollback journal (journal_mode=DELETE) keeps the logbook one file between uses, which people copy,
mail and put on memory sticks; WAL would leave committed rows in a second file, and does not work over a network
drive. With it goes synchronous=EXTRA: FULL syncs journal and database before a commit returns, and EXTRA also syncs
the folder after the journal is deleted, without which a power cut just after a commit could bring the journal
back and undo it. fullfsync asks macOS to flush the drive's own cache. A process killed at any moment leaves a
journal from which the next opening restores the last commit. (SQLite's documentation of PRAGMA synchronous.)
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path

from ridelog.errors import FileError, RecordError

APPLICATION_ID = 0x5374726C  # "Strl": marks a logbook among SQLite files
VERSION = 5
"""Schema version that this program writes; `migrations/version_N.sql` leads from N - 1 to N."""

# Two processes take turns: a write takes some 20 ms on a disk that syncs, so this is long enough for hundreds.
BUSY_S = 30.0
# STRICT tables came with it (SQLite's release history).
OLDEST_SQLITE = (3, 37, 0)

_HEADER = b"SQLite format 3\0"


def connect(path: Path, *, create: bool) -> sqlite3.Connection:
    """Open a logbook's file, and make it or bring it to this version where needed.

    Parameters
    ----------
    path : Path
    create : bool
        Make the file where there is none.

    Returns
    -------
    sqlite3.Connection
        In autocommit mode; write within `transaction`.

    Raises
    ------
    FileError
        No such file, not a logbook, from a newer program, damaged, or not to be opened.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise FileError(
            f"This Python's SQLite {sqlite3.sqlite_version} is too old for the logbook.",
            "Use a Python with SQLite 3.37 or newer.",
        )
    _look_at(path, create)
    with translate_sqlite_errors(path):
        # A whole path is never ":memory:" or "file:...?mode=memory", whose rides would be gone with the program.
        connection = open_raw(str(path.absolute()))
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            migrate(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def open_raw(name: str) -> sqlite3.Connection:
    """Open a database with the settings that every connection needs; ":memory:" for one that is not kept."""
    connection = sqlite3.connect(name, timeout=BUSY_S, isolation_level=None)
    connection.row_factory = sqlite3.Row
    for setting in (
        "foreign_keys = ON",
        "recursive_triggers = ON",  # so that INSERT OR REPLACE fires the triggers that forbid deletion
        "trusted_schema = OFF",
        "cell_size_check = ON",
        "synchronous = EXTRA",
        "fullfsync = ON",
    ):
        connection.execute(f"PRAGMA {setting}")
    return connection


def schema_version(connection: sqlite3.Connection) -> int:
    """Read the schema version of an open file; 0 where nothing was written yet."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection, path: Path | None = None, to: int = VERSION) -> None:
    """Bring a database to a schema version, each step whole or not at all.

    Parameters
    ----------
    connection : sqlite3.Connection
    path : Path, optional
        Its file; a copy of an older version is kept beside it before anything is changed.
    to : int
        Other than the newest only for tests and for files that are imported.

    Raises
    ------
    FileError
        Another program's file, or one from a newer version of this program.
    """
    version = schema_version(connection)
    foreign = connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID
    if foreign and (version or connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]):
        raise FileError(f"{path} is a database of another program.", "Name a logbook's file.")
    if version > to:
        raise FileError(
            f"{path} was written by a newer Strandline (schema {version}; this one knows {to}).",
            "Install the newer version; nothing was changed.",
        )
    if version == to:
        return
    if version and path is not None:
        from ridelog.storage.backup import keep_copy

        with snapshot(connection):
            if schema_version(connection) == version:  # nobody else was first
                keep_copy(connection, path.with_name(f"{path.name}.version-{version}"))
    with transaction(connection):
        # Checked again: another process may have been first while this one waited for the lock.
        for step in range(schema_version(connection) + 1, to + 1):
            for statement in _statements(step):
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {step}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Write whole or not at all; the lock is taken at once, so that two writers wait and never clash midway."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """Several queries that see one and the same state; within a transaction, that one's."""
    if connection.in_transaction:
        yield
        return
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:  # a disk that failed has ended it, and its error is the one to be said
            connection.execute("ROLLBACK")


@contextmanager
def translate_sqlite_errors(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into this room's, with what the person can do."""
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise _refused(error) from error
    except sqlite3.OperationalError as error:
        raise _not_possible(path, error) from error
    except sqlite3.DatabaseError as error:
        raise FileError(
            f"The logbook {path} is damaged ({error}).",
            "Keep it as it is, and go on from your latest backup.",
        ) from error
    except OverflowError as error:  # SQLite's integers have 64 bits
        raise RecordError("A number is too large to be stored or looked for.", "Check it.") from error
    except UnicodeEncodeError as error:
        raise RecordError("A text holds characters that cannot be stored.", "Type it anew.") from error


def _refused(error: sqlite3.IntegrityError) -> RecordError:
    said = str(error)
    if "holds this already" in said or "replaces" in said:
        return RecordError(
            "What was to be corrected has been corrected by somebody else meanwhile.",
            "Show it again, and repeat the change if it is still needed.",
        )
    if "append-only" in said:
        return RecordError("Records are never changed or deleted.", "Write a correction instead.")
    return RecordError(f"The logbook refuses this record ({said}).", "Check its values.")


def _not_possible(path: Path, error: sqlite3.OperationalError) -> FileError:
    said = str(error)
    if "locked" in said or "busy" in said:
        return FileError(
            f"The logbook {path} has been in use by another process for {BUSY_S:.0f} s.",
            "Close the other program, or try again.",
        )
    if "full" in said:
        return FileError(f"There is no room left to write {path}.", "Free some space; nothing was recorded.")
    if "readonly" in said or "unable to open" in said:
        return FileError(f"The logbook {path} cannot be written ({said}).", "Name one that you may write to.")
    return FileError(f"The logbook {path} cannot be used ({said}).", "Run strandline logbook check on it.")


def _look_at(path: Path, create: bool) -> None:
    try:
        if path.is_dir():
            raise FileError(f"{path} is a folder.", "Name a file, for example logbook.sqlite.")
        if path.exists():
            if not path.is_file():  # opening a pipe would wait for ever
                raise FileError(f"{path} is a device or a pipe, not a file.", "Name a logbook's file.")
            with path.open("rb") as file:
                head = file.read(len(_HEADER))
            if head and head != _HEADER and not _is_unfinished(path):
                raise FileError(f"{path} is not a logbook.", "Name a logbook's file; nothing was changed.")
            if head or create:
                _look_beside(path)
                return
        if not create:
            raise FileError(
                f"There is no logbook {path}.",
                "Name it with --logbook, or record a ride with strandline ride add.",
            )
        _look_beside(path)
        if not path.exists():
            _make_private(path)
    except OSError as error:
        raise FileError(
            f"The logbook {path} cannot be opened: {error.strerror}.", "Name one that you may read and write."
        ) from error


def _look_beside(path: Path) -> None:
    """Refuse what is no file under the names of SQLite's own files beside the logbook: it would open them and wait.

    Where the logbook is a link, they lie beside what it leads to (SQLite, "Temporary Files Used By SQLite", section 2).
    """
    there = path.resolve()
    for ending in ("-journal", "-wal", "-shm"):
        beside = there.with_name(there.name + ending)
        if beside.is_symlink() or (beside.exists() and not beside.is_file()):
            raise FileError(
                f"{beside} has a name that the logbook needs for its own, and is no file.", "Move it away."
            )


def _is_unfinished(path: Path) -> bool:
    """Whether a journal lies beside it, from which SQLite restores a file that a power cut left half written."""
    journal = path.with_name(f"{path.name}-journal")
    return journal.is_file() and journal.stat().st_size > 0


def _make_private(path: Path) -> None:
    """Make an empty file that its owner alone may read: routes, dates and loads say where and with whom one rode.

    SQLite gives its journal the same mode. A folder that has to be made is private as well. A link that leads to no
    file yet is followed, as SQLite does.
    """
    path = path.resolve()
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):  # another process was as quick
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def _statements(step: int) -> Iterator[str]:
    """Give the statements of a migration one by one: a script as a whole would commit by itself."""
    text = (
        resources.files("ridelog.storage")
        .joinpath(f"migrations/version_{step}.sql")
        .read_text(encoding="utf-8")
    )
    statement = ""
    for line in text.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""

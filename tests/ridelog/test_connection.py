"""Opening a logbook's file, transactions, and what SQLite's errors become."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.errors import FileError, LogbookError, RecordError
from ridelog.storage import connection as module
from ridelog.storage.connection import (
    APPLICATION_ID,
    VERSION,
    connect,
    migrate,
    open_raw,
    schema_version,
    snapshot,
    transaction,
    translate_sqlite_errors,
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    connection = connect(tmp_path / "a" / "book.sqlite", create=True)
    connection.execute("CREATE TABLE note (word TEXT UNIQUE CHECK (word <> '')) STRICT")
    yield connection
    connection.close()


def words(connection: sqlite3.Connection) -> list[str]:
    return [row[0] for row in connection.execute("SELECT word FROM note ORDER BY rowid")]


def test_a_new_file_says_what_it_is(tmp_path: Path) -> None:
    # SQLite's file format: the application's id stands at byte 68, the user version at 60, big-endian.
    connect(tmp_path / "book.sqlite", create=True).close()
    head = (tmp_path / "book.sqlite").read_bytes()[:100]
    assert head[:16] == b"SQLite format 3\0" and head[68:72] == b"Strl"
    assert int.from_bytes(head[60:64]) == VERSION and int.from_bytes(b"Strl") == APPLICATION_ID


def test_settings_that_every_connection_has() -> None:
    connection = open_raw(":memory:")
    # SQLite's documentation of its pragmas: synchronous 3 is EXTRA.
    for pragma, value in (
        ("foreign_keys", 1),
        ("recursive_triggers", 1),
        ("trusted_schema", 0),
        ("cell_size_check", 1),
        ("synchronous", 3),
        ("fullfsync", 1),
    ):
        assert connection.execute(f"PRAGMA {pragma}").fetchone()[0] == value, pragma
    connection.close()


def test_a_transaction_is_whole_or_not_at_all(book: sqlite3.Connection) -> None:
    with transaction(book):
        book.execute("INSERT INTO note VALUES ('kept')")
    with pytest.raises(ZeroDivisionError), transaction(book):
        book.execute("INSERT INTO note VALUES ('lost')")
        raise ZeroDivisionError
    assert words(book) == ["kept"] and not book.in_transaction


def test_a_snapshot_sees_one_state_and_leaves_a_transaction_alone(
    book: sqlite3.Connection, tmp_path: Path
) -> None:
    other = open_raw(str(tmp_path / "a" / "book.sqlite"))
    other.execute("PRAGMA busy_timeout = 0")
    with snapshot(book):
        assert words(book) == []
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("INSERT INTO note VALUES ('meanwhile')")
    other.execute("INSERT INTO note VALUES ('after')")
    with transaction(book):
        book.execute("INSERT INTO note VALUES ('mine')")
        with snapshot(book):
            assert words(book) == ["after", "mine"]
        assert book.in_transaction
    assert words(other) == ["after", "mine"]
    other.close()


@pytest.mark.parametrize(
    ("statement", "kind", "message"),
    [
        ("INSERT INTO note VALUES ('')", RecordError, "The logbook refuses this record"),
        ("SELECT RAISE(ABORT, 'x')", FileError, "cannot be used"),
        ("SELECT * FROM nothing", FileError, "cannot be used"),
        ("DELETE FROM ride", RecordError, "never changed or deleted"),
    ],
)
def test_errors_say_what_to_do(
    book: sqlite3.Connection, statement: str, kind: type[LogbookError], message: str
) -> None:
    book.execute(
        f"INSERT INTO provenance VALUES ('{'a' * 32}', 'typed', 'measured', NULL, NULL, '1', NULL, "
        "'2026-05-01T10:20:30Z', 0)"
    )
    book.execute(f"INSERT INTO bike VALUES ('{'b' * 32}', 'x', '{'a' * 32}')")
    book.execute(f"INSERT INTO ride VALUES ('{'c' * 32}', 1, '{'b' * 32}')")
    with pytest.raises(kind, match=message) as caught, translate_sqlite_errors(Path("book.sqlite")):
        book.execute(statement)
    assert caught.value.remedy.endswith(".")
    assert kind is not FileError or "book.sqlite" in caught.value.message


def test_text_that_cannot_be_stored(book: sqlite3.Connection) -> None:
    with pytest.raises(RecordError, match="cannot be stored"), translate_sqlite_errors(Path("book.sqlite")):
        book.execute("INSERT INTO note VALUES (?)", ("\udcff",))


def test_a_damaged_file_is_said_to_be_damaged(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite"
    connect(path, create=True).close()
    content = bytearray(path.read_bytes())
    content[100:2000] = b"\xff" * 1900
    path.write_bytes(content)
    with pytest.raises(FileError, match="damaged"):
        connect(path, create=False)


def test_a_newer_file_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite"
    connection = connect(path, create=True)
    connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(FileError, match=f"schema {VERSION + 1}; this one knows {VERSION}"):
        connect(path, create=False)
    assert path.read_bytes() == before


def test_an_old_sqlite_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "OLDEST_SQLITE", (99, 0, 0))
    with pytest.raises(FileError, match="too old"):
        connect(tmp_path / "book.sqlite", create=True)


def test_each_step_of_a_migration_stands_alone() -> None:
    connection = open_raw(":memory:")
    migrate(connection, to=1)
    assert schema_version(connection) == 1
    columns = {row["name"] for row in connection.execute("PRAGMA table_info(ride_entry)")}
    assert "felt" in columns
    migrate(connection)
    assert schema_version(connection) == VERSION
    columns = {row["name"] for row in connection.execute("PRAGMA table_info(ride_entry)")}
    assert "felt" not in columns
    connection.close()

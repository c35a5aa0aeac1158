"""A copy of a logbook that is in use: whole or not at all, and never over another file unasked."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.errors import TransferError
from ridelog.storage.backup import keep_copy, write_copy
from ridelog.storage.check import check_file
from ridelog.storage.store import Logbook
from ridelog.transfer.transfer import export
from tests.helpers.made_records import fill, put_ride


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook.open(tmp_path / "a.sqlite") as logbook:
        fill(logbook)
        yield logbook


def test_backup_of_a_logbook_in_use(tmp_path: Path) -> None:
    target = tmp_path / "safe" / "copy.sqlite"
    with Logbook.open(tmp_path / "a.sqlite") as book:
        fill(book)
        write_copy(book.connection, target, force=False)
        assert check_file(target).findings == ()
        with pytest.raises(TransferError, match="is there already"):
            write_copy(book.connection, target, force=False)
        put_ride(book, 3)
        write_copy(book.connection, target, force=True)
        with Logbook.open(target) as copy:
            assert export(copy) == export(book)
    assert [one.name for one in target.parent.iterdir()] == ["copy.sqlite"]


def test_what_is_there_stays_unless_it_is_to_be_replaced(book: Logbook, tmp_path: Path) -> None:
    target = tmp_path / "notes.txt"
    target.write_text("mine")
    with pytest.raises(TransferError, match="is there already"):
        write_copy(book.connection, target, force=False)
    assert target.read_text() == "mine"
    write_copy(book.connection, target, force=True)
    assert check_file(target).sound
    with pytest.raises(TransferError, match="is a folder"):
        write_copy(book.connection, tmp_path, force=True)


def test_a_copy_that_fails_leaves_nothing(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", broken)
    target = tmp_path / "safe" / "copy.sqlite"
    with pytest.raises(TransferError, match="No space left on device"):
        write_copy(book.connection, target, force=True)
    assert list(target.parent.iterdir()) == []


def test_a_kept_copy_is_not_replaced(book: Logbook, tmp_path: Path) -> None:
    target = tmp_path / "a.sqlite.version-1"
    keep_copy(book.connection, target)
    before = target.read_bytes()
    put_ride(book, 5)
    keep_copy(book.connection, target)
    assert target.read_bytes() == before


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions")
def test_a_copy_is_its_owners_alone(book: Logbook, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite"
    write_copy(book.connection, target, force=False)
    assert target.stat().st_mode & 0o777 == 0o600


def test_a_damaged_logbook_says_what_to_do(tmp_path: Path) -> None:
    connection = sqlite3.connect(":memory:")
    connection.close()
    with pytest.raises(TransferError, match="The copy to"):
        write_copy(connection, tmp_path / "copy.sqlite", force=False)
    assert list(tmp_path.iterdir()) == []

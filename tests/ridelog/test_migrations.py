"""Every earlier schema becomes this one, on a real file, and what it held is still there.

`files/version-1.sqlite` was written with plain SQL when version 1 was the newest, and is kept as it was.
"""

from __future__ import annotations

import multiprocessing
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.errors import FileError
from ridelog.names import Felt
from ridelog.storage.check import check
from ridelog.storage.connection import VERSION, migrate, open_raw, schema_version
from ridelog.storage.records import Source
from ridelog.storage.store import Logbook
from ridelog.transfer.document import Document
from ridelog.transfer.transfer import import_
from tests.helpers.made_records import BIKE, put_ride

FILES = Path(__file__).parent / "files"


def old(tmp_path: Path, version: int) -> Path:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(FILES / f"version-{version}.sqlite", path)
    path.chmod(0o644)
    return path


@pytest.mark.parametrize("version", range(1, VERSION))
def test_an_old_file_is_brought_to_this_version(tmp_path: Path, version: int) -> None:
    path = old(tmp_path, version)
    before = path.read_bytes()
    with Logbook.open(path) as book:
        assert schema_version(book.connection) == VERSION
        assert check(book).findings == ()
        first, second = book.rides.all_rides()
        assert first.entry.felt == (Felt.HARSH,) and second.entry.felt == (Felt.DIVES,)
        assert second.entry.route == "Valley loop" and second.load_case is None
        assert first.load_case is not None and first.load_case.name == "solo" and first.load_case.items == ()
        assert first.settings[0].count == 4
        (reading,) = first.readings
        assert reading.remaining_mm is not None
        assert (reading.remaining_mm.value, reading.remaining_mm.u95) == (14.0, 0.3)
        assert reading.exposed_marker_mm2 is None and reading.provenance.source is Source.TYPED
        photo = book.rides.history(1).readings[0].provenance
        assert (photo.photo_name, photo.photo_sha256) == ("IMG_1.jpg", "ab" * 32) and not photo.by_hand
        assert book.bikes.version(first.entry.bike_version_id).toml == BIKE
        assert put_ride(book, 4).number == 3
    copy = path.with_name(f"{path.name}.version-{version}")
    with sqlite3.connect(copy) as kept, sqlite3.connect(FILES / f"version-{version}.sqlite") as original:
        assert list(kept.iterdump()) == list(original.iterdump())
    kept.close()
    original.close()
    assert before == (FILES / f"version-{version}.sqlite").read_bytes()


def test_a_migrated_file_and_a_new_one_have_the_same_schema(tmp_path: Path) -> None:
    def schema(book: Logbook) -> set[tuple[str, str]]:
        rows = book.connection.execute("SELECT name, sql FROM sqlite_schema").fetchall()
        return {tuple(row) for row in rows}

    with Logbook.open(old(tmp_path, 1)) as migrated, Logbook.open(tmp_path / "new.sqlite") as new:
        assert schema(migrated) == schema(new)


def test_a_newer_file_is_left_alone(tmp_path: Path) -> None:
    path = old(tmp_path, 1)
    with sqlite3.connect(path) as connection:
        connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(FileError, match="newer Strandline"):
        Logbook.open(path)
    assert path.read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir()) == ["logbook.sqlite"]


def test_a_migration_that_fails_midway_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import ridelog.storage.connection as module

    path = old(tmp_path, 1)
    right = module._statements

    def broken(step: int) -> Iterator[str]:
        yield from list(right(step))[:-3]
        yield "CREATE TABLE felt (twice TEXT)"

    with sqlite3.connect(path) as connection:
        before = list(connection.iterdump())
    connection.close()
    monkeypatch.setattr(module, "_statements", broken)
    with pytest.raises(FileError):
        Logbook.open(path)
    with sqlite3.connect(path) as connection:
        assert list(connection.iterdump()) == before
        assert schema_version(connection) == 1
    connection.close()
    monkeypatch.undo()
    with Logbook.open(path) as book:
        assert check(book).findings == ()


def _open(path: Path) -> int:
    with Logbook.open(path) as book:
        return len(book.rides.all_rides())


def rides_in(path: Path) -> int:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
        found = int(connection.execute("SELECT count(*) FROM ride").fetchone()[0])
    connection.close()
    return found


def test_a_logbook_that_went_back_and_comes_again_is_copied_again(tmp_path: Path) -> None:
    """After a downgrade rides were recorded by the older program; the first copy has not these."""
    path = old(tmp_path, 4)
    Logbook.open(path).close()
    shutil.copy(FILES / "version-4.sqlite", path)
    with sqlite3.connect(path) as recorded:  # as the older program would
        columns = [row[1] for row in recorded.execute("PRAGMA table_info(ride)")]
        values = ", ".join(
            {"id": "'f' || substr(id, 2)", "number": "number + 100"}.get(one, one) for one in columns
        )
        recorded.execute(f"INSERT INTO ride SELECT {values} FROM ride WHERE number = 1")
    recorded.close()
    Logbook.open(path).close()
    copies = {one.name: rides_in(one) for one in tmp_path.glob("logbook.sqlite.version-*")}
    assert copies == {"logbook.sqlite.version-4": 2, "logbook.sqlite.version-4-2": 3}
    # The same again changes nothing.
    shutil.copy(tmp_path / "logbook.sqlite.version-4", path)
    Logbook.open(path).close()
    assert len(list(tmp_path.glob("logbook.sqlite.version-*"))) == 2


@pytest.mark.parametrize("version", range(VERSION))
def test_several_processes_may_open_a_new_or_an_old_file_at_once(tmp_path: Path, version: int) -> None:
    path = old(tmp_path, version) if version else tmp_path / "logbook.sqlite"
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        opened = pool.map_async(_open, [path] * 6)
        assert opened.get(timeout=600) == [2 if version else 0] * 6
    with Logbook.open(path) as book:
        assert check(book).findings == ()
    assert len(list(tmp_path.glob("*.version-*"))) == (version > 0)


def test_a_document_of_an_earlier_version_is_taken(tmp_path: Path) -> None:
    with sqlite3.connect(FILES / "version-1.sqlite") as connection:
        connection.row_factory = sqlite3.Row
        tables = (
            "provenance",
            "bike",
            "bike_version",
            "load_case",
            "ride",
            "ride_entry",
            "setting",
            "reading",
        )
        rows = {t: [dict(row) for row in connection.execute(f"SELECT * FROM {t}")] for t in tables}
    connection.close()
    with Logbook.open(tmp_path / "new.sqlite") as book, Logbook.open(old(tmp_path, 1)) as migrated:
        import_(book, Document(1, rows))
        assert book.rides.all_rides() == migrated.rides.all_rides()
        assert check(book).findings == ()


def test_versions_have_files_to_test_with() -> None:
    assert {one.stem for one in FILES.iterdir()} == {f"version-{n}" for n in range(1, VERSION)}
    for version in range(1, VERSION):
        with sqlite3.connect(FILES / f"version-{version}.sqlite") as connection:
            assert schema_version(connection) == version
        connection.close()
    made = open_raw(":memory:")
    migrate(made, to=1)
    assert schema_version(made) == 1
    made.close()


def test_a_copy_that_differs_in_counters_alone_is_one(tmp_path: Path) -> None:
    """Of processes that open an old file at once: SQLite's backup counts the schema on (file format, 1.3.9)."""
    path = old(tmp_path, 1)
    content = bytearray(path.read_bytes())
    content[40:44] = (int.from_bytes(content[40:44], "big") + 1).to_bytes(4, "big")
    path.with_name(f"{path.name}.version-1").write_bytes(content)
    Logbook.open(path).close()
    assert len(list(tmp_path.glob("*.version-*"))) == 1

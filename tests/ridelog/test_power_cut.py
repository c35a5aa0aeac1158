"""The power goes at any moment while a logbook is written: what was acknowledged is there, and the file is sound.

SQLite writes through a file system of the test's own, from whose record images of the disk are made as they may be
found after a cut (`tests.helpers.lost_writes`). Python's SQLite, another build than the one that wrote, opens them.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ridelog.storage.check import check
from ridelog.storage.connection import VERSION, schema_version
from ridelog.storage.store import Logbook
from ridelog.transfer.transfer import export, import_
from tests.helpers.apsw_connection import Connection
from tests.helpers.lost_writes import Disk, disk, image
from tests.helpers.made_records import fill, put_load, put_ride, put_sag

FILES = Path(__file__).parent / "files"
NAME = "logbook.sqlite"
Writing = Callable[[Disk, Path], None]


@pytest.fixture
def recorded(monkeypatch: pytest.MonkeyPatch) -> Iterator[Disk]:
    """Let logbooks write through a recording disk."""
    with disk("recorded") as made:
        monkeypatch.setattr(sqlite3, "connect", lambda name, **_: Connection(name, made.name))
        yield made


def write_new(made: Disk, path: Path) -> None:
    """Make a logbook, and record a load, sag, rides, a correction."""
    with Logbook.open(path) as book:
        for day in range(1, 5):
            ride = put_ride(book, day)
            made.said(f"ride {ride.number}")
        put_load(book)
        put_sag(book)
        made.said("sag")
        fill(book)
        made.said("ride 5")
        made.said("correction")


def write_old(made: Disk, path: Path) -> None:
    """Bring a logbook of the first version to this one, and record a ride."""
    shutil.copy(FILES / "version-1.sqlite", path)
    path.chmod(0o600)
    made.said("ride 1")
    made.said("ride 2")
    with Logbook.open(path) as book:
        put_ride(book, 4)
        made.said("ride 3")


def write_import(made: Disk, path: Path) -> None:
    """Take in what another logbook exported, in one transaction."""
    with Logbook.open(path.with_name("other.sqlite")) as other:
        for day in range(1, 9):
            put_ride(other, day)
        document = export(other)
    del made.events[:]
    with Logbook.open(path) as book:
        import_(book, document)
        for number in range(1, 9):
            made.said(f"ride {number}")
        put_ride(book, 20)
        made.said("ride 9")


WAYS: dict[str, Writing] = {"new": write_new, "old": write_old, "import": write_import}


def cut(tmp_path: Path, made: Disk, way: str, images: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Write, then open images of the disk."""
    path = tmp_path / "written" / NAME
    path.parent.mkdir()
    WAYS[way](made, path)
    monkeypatch.undo()  # from here on Python's SQLite
    events = [one for one in made.events if one.name.startswith(NAME) or one.kind == "said"]
    before = {NAME: (FILES / "version-1.sqlite").read_bytes() if way == "old" else b""}
    chance = random.Random(21)
    journals = 0
    for turn in range(images):
        until = chance.randrange(len(events) + 1)
        there = image(events[:until], before, chance)
        folder = tmp_path / str(turn)
        folder.mkdir()
        for name, content in there.items():
            (folder / name).write_bytes(content)
        said = {one.name for one in events[:until] if one.kind == "said"}
        with Logbook.open(folder / NAME) as book:
            assert check(book).findings == (), (turn, until)
            assert schema_version(book.connection) == VERSION
            found = book.rides.all_rides()
            numbers = {f"ride {ride.number}" for ride in found}
            assert numbers >= {one for one in said if one.startswith("ride")}, (turn, until)
            # what was not yet reported as recorded is there whole or not at all
            assert all(ride.readings and ride.settings for ride in found if way != "old")
            bikes = book.bikes.all_bikes()
            if "sag" in said:
                assert book.sag.current(bikes[0].id)
            assert put_ride(book, 28).number == len(found) + 1
        journals += bool(there.get(f"{NAME}-journal"))
        shutil.rmtree(folder)
    assert journals > images / 8  # cuts in the midst of a transaction, which the journal takes back


@pytest.mark.parametrize(("way", "images"), [("new", 20), ("old", 10), ("import", 10)])
def test_cut(tmp_path: Path, recorded: Disk, way: str, images: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cut(tmp_path, recorded, way, images, monkeypatch)


@pytest.mark.long
@pytest.mark.parametrize("way", WAYS)
def test_cut_often(tmp_path: Path, recorded: Disk, way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    cut(tmp_path, recorded, way, 200, monkeypatch)


def test_cut_in_the_first_transaction(
    tmp_path: Path, recorded: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first page did not reach the disk and a later one did: zeros at the head, and a journal that empties it."""
    path = tmp_path / NAME
    Logbook.open(path).close()
    monkeypatch.undo()
    writes = [at for at, one in enumerate(recorded.events) if one.kind == "write" and one.name == NAME]
    synced = recorded.events[: writes[0]]
    folder = tmp_path / "cut"
    folder.mkdir()
    for name, content in image(synced, {NAME: b""}, random.Random(0)).items():
        (folder / name).write_bytes(content)
    (folder / NAME).write_bytes(bytes(4096) + recorded.events[writes[1]].content)
    with Logbook.open(folder / NAME) as book:
        assert check(book).findings == () and put_ride(book).number == 1

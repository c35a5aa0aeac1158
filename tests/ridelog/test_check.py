"""The check finds damage of every kind; each test does damage of one kind, past the program."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from ridelog.errors import FileError
from ridelog.storage.check import check_file
from ridelog.storage.connection import VERSION
from ridelog.storage.records import new_id
from ridelog.storage.store import Logbook
from tests.helpers.made_records import fill


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filled") / "logbook.sqlite"
    with Logbook.open(path) as book:
        fill(book)
    return path


@pytest.fixture
def path(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(filled, tmp_path / "logbook.sqlite"))


def spoil(path: Path, *statements: str) -> None:
    """Run SQL as another program would, with the triggers taken away and put back."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous = OFF")  # quick; nothing is at stake here
    triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    for _, sql in triggers:
        connection.execute(sql)
    connection.close()


def found(path: Path) -> set[str]:
    return {finding.check for finding in check_file(path).findings}


def test_a_sound_logbook(path: Path) -> None:
    report = check_file(path)
    assert report.sound and report.version == VERSION and report.rows["ride"] == 1
    spoil(path)
    assert check_file(path).sound


@pytest.mark.parametrize(
    ("statement", "finding"),
    [
        ("DELETE FROM provenance", "references"),
        ("DELETE FROM load_case", "references"),
        ("DROP INDEX ride_entry_first", "schema"),
        ("CREATE TABLE mine (x)", "schema"),
        ("ALTER TABLE reading ADD COLUMN mine TEXT", "schema"),
        ("UPDATE reading SET leg = 'rear' WHERE leg = 'front-left'", None),
        ("UPDATE bike_version SET toml = toml || ' '", "bikes"),
        ("UPDATE bike SET name = 'Red one'", "bikes"),
        ("UPDATE reading SET leg = 'rear-left'", "legs"),
        ("UPDATE reading SET remaining_mm = remaining_mm + 3", "readings"),
        (
            "DELETE FROM ride_entry WHERE replaces IS NOT NULL OR id NOT IN (SELECT replaces FROM ride_entry)",
            None,
        ),
    ],
)
def test_damage_is_found(path: Path, statement: str, finding: str | None) -> None:
    spoil(path, statement)
    assert found(path) == (set() if finding is None else {finding})


def test_a_ride_without_facts(path: Path) -> None:
    spoil(path, "DELETE FROM felt_end", "DELETE FROM felt", "DELETE FROM event", "DELETE FROM ride_entry")
    assert found(path) == {"rides"}


def test_a_loop_of_corrections(path: Path) -> None:
    spoil(
        path,
        "UPDATE reading SET replaces = (SELECT max(id) FROM reading) WHERE id = (SELECT min(id) FROM reading)",
        "UPDATE reading SET replaces = (SELECT min(id) FROM reading) WHERE id = (SELECT max(id) FROM reading)",
    )
    assert "corrections" in found(path)


def test_a_missing_trigger(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER reading_no_update")
    connection.close()
    assert check_file(path).findings[0].what == "the trigger reading_no_update is missing"


def test_two_load_cases_of_one_name(path: Path) -> None:
    spoil(
        path,
        "DROP INDEX load_case_first",
        f"INSERT INTO load_case SELECT '{new_id()}', bike_id, name, provenance_id, NULL, 0 FROM load_case",
        "CREATE UNIQUE INDEX load_case_first ON load_case (bike_id, name) WHERE replaces IS NULL AND 0",
    )
    assert "schema" in found(path)


def damage(change: Callable[[bytearray], None]) -> Callable[[Path], None]:
    def do(path: Path) -> None:
        content = bytearray(path.read_bytes())
        change(content)
        path.write_bytes(content)

    return do


@pytest.mark.parametrize("seed", range(3))
def test_overwritten_pages_are_told_not_crashed_over(path: Path, seed: int) -> None:
    def change(content: bytearray) -> None:
        page = 4096 * (3 + 7 * seed)
        content[page : page + 2000] = bytes((i * 7 + seed) % 251 for i in range(2000))

    damage(change)(path)
    try:
        report = check_file(path)
    except FileError as error:
        assert "damaged" in error.message or "cannot be used" in error.message
    else:
        assert "integrity" in {finding.check for finding in report.findings}


def test_a_file_cut_short(path: Path) -> None:
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    try:
        assert not check_file(path).sound
    except FileError as error:
        assert "damaged" in error.message


def test_a_day_that_no_calendar_has(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA ignore_check_constraints = ON")
    connection.execute("DROP TRIGGER ride_entry_no_update")
    connection.execute("UPDATE ride_entry SET date = '2026-02-30'")
    connection.commit()
    connection.close()
    assert {"integrity", "schema"} == found(path)  # integrity_check looks at CHECK constraints too

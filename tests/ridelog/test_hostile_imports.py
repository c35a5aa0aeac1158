"""Imports that pass the schema and would make a logbook useless: refused, found by a check, left out by a repair.

SQLite's date() knows year 0, which ISO 8601 lets partners agree on and Python's calendar does not have; its integers
reach 2**63 - 1 (SQLite, "Datatypes In SQLite", section 2).
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ridelog.bikes.file import parse_bike
from ridelog.bikes.write import toml_value
from ridelog.errors import LogbookError, RecordError, TransferError
from ridelog.storage.check import check, check_file
from ridelog.storage.store import Logbook
from ridelog.transfer.as_csv import read_csv, to_csv
from ridelog.transfer.as_json import from_json
from ridelog.transfer.document import Document
from ridelog.transfer.repair import repair
from ridelog.transfer.transfer import export, import_
from tests.helpers.made_records import new_logbook, put_ride

Tables = dict[str, list[dict[str, Any]]]


def year_zero(tables: Tables) -> None:
    tables["ride_entry"][0]["date"] = "0000-01-01"


def deep_brackets(tables: Tables) -> None:
    text_of_bike(tables, "a = " + "[" * 2_400 + "]" * 2_400 + "\n")


def deeper_brackets(tables: Tables) -> None:
    text_of_bike(tables, "\n".join("[" * 5_000) + "]" * 5_000)


def deep_keys(tables: Tables) -> None:
    text_of_bike(tables, ".".join("a" * 2_000) + " = 1\n")


def no_toml(tables: Tables) -> None:
    text_of_bike(tables, "this is no TOML")


def endless_covariance(tables: Tables) -> None:
    tables["reading"][0]["exposed_marker_mm2"] = float("inf")


def largest_number(tables: Tables) -> None:
    tables["ride"][0]["number"] = 2**63 - 1


def long_route(tables: Tables) -> None:
    tables["ride_entry"][0]["route"] = "a" * 3_000_000


def text_of_bike(tables: Tables, text: str) -> None:
    row = tables["bike_version"][0]
    row["toml"], row["sha256"] = text, hashlib.sha256(text.encode()).hexdigest()


ATTACKS = [
    year_zero,
    deep_brackets,
    deeper_brackets,
    deep_keys,
    no_toml,
    endless_covariance,
    largest_number,
    long_route,
]


def attacked(folder: Path, attack: Callable[[Tables], None]) -> Document:
    """Export a logbook of two rides, and spoil it."""
    with new_logbook(folder) as book:
        put_ride(book)
        put_ride(book, day=2)
        document = export(book)
    attack(document.tables)
    return document


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack.__name__)
def test_nothing_enters_that_no_command_reads(tmp_path: Path, attack: Callable[[Tables], None]) -> None:
    """One sentence, and the logbook is as it was."""
    document = attacked(tmp_path, attack)
    with Logbook.open(tmp_path / "other.sqlite") as book:
        with pytest.raises(TransferError) as raised:
            import_(book, document)
        assert ".." not in raised.value.message
        assert raised.value.message.count(document.tables["ride_entry"][0]["id"]) < 2
        assert not any(export(book).tables.values())


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack.__name__)
def test_what_is_in_is_found_and_left_out(
    tmp_path: Path, attack: Callable[[Tables], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A logbook that took it from an older program: check finds it, repair writes a copy that is sound."""
    document = attacked(tmp_path, attack)
    path = tmp_path / "other.sqlite"
    with Logbook.open(path) as book:
        monkeypatch.setattr("ridelog.transfer.transfer.bad_rows", lambda connection: [])
        import_(book, document)
        assert not check(book).sound
        done = repair(book, tmp_path / "sound.sqlite", force=False)
    assert done.left_out or done.changed
    assert not done.remaining
    assert check_file(tmp_path / "sound.sqlite").sound
    with Logbook.open(tmp_path / "sound.sqlite") as book:
        rides = book.rides.all_rides()
    # the second ride has the same bike's text, and goes only with that
    assert len(rides) == {"year_zero": 1, "long_route": 1, "endless_covariance": 2, "largest_number": 2}.get(
        attack.__name__, 0
    )


def test_a_row_that_is_in_is_one_sentence_for_the_commands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading such a ride names the remedy."""
    document = attacked(tmp_path, year_zero)
    with Logbook.open(tmp_path / "other.sqlite") as book:
        monkeypatch.setattr("ridelog.transfer.transfer.bad_rows", lambda connection: [])
        import_(book, document)
        with pytest.raises(RecordError) as raised:
            book.rides.all_rides()
    assert "logbook repair" in raised.value.remedy


def test_a_repair_keeps_the_correction_of_what_it_leaves_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The good correction of a bad row takes its place."""
    with new_logbook(tmp_path) as book:
        ride = put_ride(book)
        book.rides.amend(ride, entry=ride.entry)
        document = export(book)
    entries = document.tables["ride_entry"]
    assert len(entries) == 2
    assert entries[1]["replaces"] == entries[0]["id"]
    year_zero(document.tables)
    with Logbook.open(tmp_path / "other.sqlite") as book:
        monkeypatch.setattr("ridelog.transfer.transfer.bad_rows", lambda connection: [])
        import_(book, document)
        done = repair(book, tmp_path / "sound.sqlite", force=False)
    assert any("takes the place" in line for line in done.changed)
    with Logbook.open(tmp_path / "sound.sqlite") as book:
        (kept,) = book.rides.all_rides()
    assert kept.entry.date == ride.entry.date


@pytest.mark.parametrize(
    "cell",
    ["²", "٣", "9" * 5_000, "inf", "nan", "1e999", "1_0", " 1", "0x1", ".", "9" * 30],
    # words, for pytest finds no test again whose name holds a backslash (make mutants runs them by name)
    ids=["raised", "arabic", "long", "inf", "nan", "1e999", "1_0", "blank", "0x1", "point", "large"],
)
@pytest.mark.parametrize(("table", "column"), [("ride", "number"), ("reading", "exposed_marker_mm2")])
def test_numbers_in_csv_are_plain(tmp_path: Path, table: str, column: str, cell: str) -> None:
    """Digits of other scripts, endless ones and what is no number: the file, the row and the column are named."""
    if (column, cell) == ("exposed_marker_mm2", "9" * 30):
        pytest.skip("a number, if a large one")
    document = attacked(tmp_path, lambda tables: None)
    document.tables[table][0][column] = cell
    with pytest.raises(TransferError, match=f"{table}.csv, row 2: .* is no number for {column}") as raised:
        read_csv(written(document, tmp_path / "csv"))
    assert len(raised.value.message) < 300


@pytest.mark.parametrize("version", ["²", "٣", "9" * 5_000, ""])
def test_the_version_in_csv_is_plain(tmp_path: Path, version: str) -> None:
    """The folder's own description is checked in the same way."""
    folder = written(attacked(tmp_path, lambda tables: None), tmp_path / "csv")
    (folder / "about.csv").write_text(
        f"kind,schema_version,program_version\nstrandline logbook,{version},1\n", encoding="utf-8"
    )
    with pytest.raises(TransferError, match="does not say that this is a logbook"):
        read_csv(folder)


def test_short_rows_in_csv(tmp_path: Path) -> None:
    """A row that lacks cells names the first that is missing."""
    folder = written(attacked(tmp_path, lambda tables: None), tmp_path / "csv")
    path = folder / "ride.csv"
    head, first, *_ = path.read_text(encoding="utf-8").splitlines()
    path.write_text(f"{head}\n{first.split(',')[0]}\n", encoding="utf-8")
    with pytest.raises(TransferError, match=r"ride.csv, row 2 is too short: it has no number"):
        read_csv(folder)


def test_numbers_without_end_in_json() -> None:
    """5,000 digits, and more than a double holds."""
    for number in ("9" * 5_000, "1e999"):
        whole = json.dumps(
            {"kind": "strandline logbook", "schema_version": 3, "tables": {"ride": [{"number": 0}]}}
        )
        with pytest.raises(TransferError):
            from_json(whole.replace('"number": 0', f'"number": {number}'), "x.json")


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 2_400,
        "\n".join("[" * 5_000) + "]" * 5_000,
        ".".join("a" * 2_000) + " = 1",
        ".".join("a" * 400_000) + " = 1",
        "a = " + "9" * 4_990,
        "".join(f"k{number} = 1\n" for number in range(50_000)),
    ],
    ids=["brackets", "more brackets", "keys", "a line of keys", "digits", "lines"],
)
def test_a_monstrous_bike_is_refused_soon(text: str) -> None:
    """What recursion or the square of its length makes slow."""
    start = time.process_time()
    with pytest.raises(LogbookError):
        parse_bike(text, "monster.toml")
    assert time.process_time() - start < 5


def test_brackets_without_end_typed_for_a_value() -> None:
    """`bike edit --set` takes them as text, which its check then refuses."""
    assert toml_value("[" * 5_000) == "[" * 5_000


def written(document: Document, folder: Path) -> Path:
    """Write a document as CSV."""
    folder.mkdir()
    for name, text in to_csv(document, "1").items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder

"""Listing asks the file a fixed number of questions, however many rows there are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.storage.check import check
from ridelog.storage.records import new_id
from ridelog.storage.store import Logbook
from ridelog.transfer.transfer import export, import_
from tests.helpers.made_records import PHOTO, entry, fork_reading, put_bike, put_load, put_sag, rear_preload

LISTINGS: dict[str, Callable[[Logbook], object]] = {
    "rides": lambda book: book.rides.all_rides(),
    "bikes": lambda book: book.bikes.all_bikes(),
    "versions": lambda book: book.bikes.versions(),
    "loads": lambda book: book.loads.current(put_bike(book).bike_id),
    "load names": lambda book: book.loads.names(put_bike(book).bike_id),
    "sag": lambda book: book.sag.current(put_bike(book).bike_id),
    "history": lambda book: book.rides.history(1),
    "check": check,
    "import of what is there": lambda book: import_(book, export(book)),
}


def filled(path: Path, count: int) -> Logbook:
    """Fill a logbook with so many rides, load cases, sag sessions, and corrections of its first ride."""
    book = Logbook.open(path)
    version = put_bike(book)
    case = put_load(book)
    for number in range(count):
        put_load(book, 80.0 + number)
        put_sag(book)
        facts = entry(version, route=f"loop {number}", load_case_id=case.id)
        readings = [replace(fork_reading(PHOTO), id=new_id()), replace(fork_reading(), id=new_id())]
        book.rides.add(version.bike_id, facts, [rear_preload()], readings)
        first = book.rides.get(1)
        book.rides.amend(first, entry=replace(first.entry, note=f"note {number}"))
    return book


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Logbook]:
    folder = tmp_path_factory.mktemp("books")
    return {count: filled(folder / f"{count}.sqlite", count) for count in (3, 30)}


@pytest.mark.parametrize("name", LISTINGS)
def test_thirty_rides_take_as_many_queries_as_three(books: dict[int, Logbook], name: str) -> None:
    asked = {}
    for count, book in books.items():
        statements: list[str] = []
        book.connection.set_trace_callback(statements.append)
        LISTINGS[name](book)
        book.connection.set_trace_callback(None)
        asked[count] = [one for one in statements if one.startswith("SELECT")]
    assert asked[3] and len(asked[3]) == len(asked[30])


def test_the_logbooks_hold_what_is_counted(books: dict[int, Logbook]) -> None:
    assert [len(book.rides.all_rides()) for book in books.values()] == [3, 30]
    assert [len(book.sag.current(put_bike(book).bike_id)) for book in books.values()] == [3, 30]
    assert [len(book.rides.history(1).entries) for book in books.values()] == [4, 31]


def test_recording_many_readings_takes_as_many_queries_as_few(tmp_path: Path) -> None:
    asked = {}
    with Logbook.open(tmp_path / "book.sqlite") as book:
        version = put_bike(book)
        for count in (3, 30):
            readings = [replace(fork_reading(replace(PHOTO, id=new_id())), id=new_id()) for _ in range(count)]
            statements: list[str] = []
            book.connection.set_trace_callback(statements.append)
            book.rides.add(version.bike_id, entry(version), [rear_preload()], readings)
            book.connection.set_trace_callback(None)
            asked[count] = len([one for one in statements if one.startswith("SELECT")])
        assert [len(ride.readings) for ride in book.rides.all_rides()] == [3, 30]
    assert asked[3] == asked[30] > 0

"""Loads and routes by names folded in case and spaces; renamed and retired, they keep their rides and history."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import RecordError
from ridelog.storage.check import check
from ridelog.storage.records import LoadCase, Ride, new_id
from ridelog.storage.store import Logbook
from ridelog.transfer.transfer import export, import_
from tests.helpers.made_records import TYPED, entry, new_logbook, put_bike, put_load


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as opened:
        yield opened


def ride(book: Logbook, day: int, load: str, route: str = "Ridge loop") -> Ride:
    version = put_bike(book)
    case = book.loads.named(version.bike_id, load, TYPED)
    return book.rides.add(version.bike_id, entry(version, day, load_case_id=case.id, route=route))


def names(book: Logbook) -> list[str]:
    return [one.load_case.name for one in book.rides.all_rides() if one.load_case is not None]


def test_three_spellings_are_one_load_shown_as_first_written(book: Logbook) -> None:
    for day, name in enumerate(("Solo", "solo", "SOLO "), start=1):
        ride(book, day, name)
    assert names(book) == ["Solo"] * 3
    bike = put_bike(book).bike_id
    assert [one.name for one in book.loads.current(bike)] == ["Solo"]
    kept = book.loads.put_case(bike, LoadCase("sOLO", TYPED))
    assert kept.name == "Solo" and len(book.loads.current(bike)) == 1


def test_two_cases_of_an_older_logbook_are_one(book: Logbook) -> None:
    """Written as plain rows, as an earlier version did; the one whose parts are known stands for both."""
    bike = put_bike(book).bike_id
    first = LoadCase("Solo", TYPED, bike_id=bike)
    book.loads.put(first)
    known = put_load(book)  # replaces it: then a second chain as before version 3
    other = replace(first, id=new_id(), name="solo ")
    book.loads.put(other)
    version = put_bike(book)
    for day, case in enumerate((first, other, known), start=1):
        book.rides.add(version.bike_id, entry(version, day, load_case_id=case.id))
    assert names(book) == ["Solo"] * 3
    (current,) = book.loads.current(bike)
    assert current.items == known.items and check(book).findings == ()


def test_a_renamed_load_keeps_its_rides_and_its_history(book: Logbook) -> None:
    first = ride(book, 1, "solo")
    put_load(book)
    bike = first.bike.id
    book.loads.rename(bike, "SOLO", "solo, tank bag", TYPED)
    ride(book, 2, "Solo, tank  bag")
    assert names(book) == ["solo, tank bag"] * 2
    (case,) = book.loads.current(bike)
    assert len(case.items) == 2 and len(case.axle_loads) == 1
    assert first.entry.load_case_id is not None and book.loads.get(first.entry.load_case_id).name == "solo"
    with pytest.raises(RecordError, match="called before"):
        ride(book, 3, "solo")
    ride(book, 3, "two-up")
    with pytest.raises(RecordError, match="cannot be taken"):
        book.loads.rename(bike, "two-up", "solo, Tank bag", TYPED)
    assert check(book).findings == ()


def test_a_retired_load_keeps_its_rides_and_can_be_taken_up_again(book: Logbook) -> None:
    bike = ride(book, 1, "solo").bike.id
    book.loads.retire(bike, "Solo", TYPED)
    assert book.loads.current(bike) == () and names(book) == ["solo"]
    with pytest.raises(RecordError, match="no load"):
        book.loads.retire(bike, "solo", TYPED)
    ride(book, 2, "SOLO")
    assert names(book) == ["solo"] * 2 and [one.name for one in book.loads.current(bike)] == ["solo"]
    assert check(book).findings == ()


def test_a_renamed_route_keeps_its_rides_and_its_history(book: Logbook) -> None:
    for day, route in enumerate(("Ridge loop", "ridge  LOOP", "Motorway"), start=1):
        ride(book, day, "solo", route)
    bike = put_bike(book).bike_id
    assert book.rides.rename_route(bike, "RIDGE loop", "Ridge loop, north", TYPED) == 2
    routes = [one.entry.route for one in book.rides.all_rides()]
    assert routes == ["Ridge loop, north"] * 2 + ["Motorway"]
    assert [one.route for one in book.rides.history(1).entries] == ["Ridge loop", "Ridge loop, north"]
    with pytest.raises(RecordError, match="No ride"):
        book.rides.rename_route(bike, "Ridge loop", "x", TYPED)
    assert check(book).findings == ()


def test_a_renamed_load_goes_out_and_in(book: Logbook, tmp_path: Path) -> None:
    bike = ride(book, 1, "solo").bike.id
    book.loads.rename(bike, "solo", "alone", TYPED)
    with Logbook.open(tmp_path / "other.sqlite") as other:
        import_(other, export(book))
        assert names(other) == ["alone"] and check(other).findings == ()

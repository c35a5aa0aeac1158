"""What the parts of a logbook share: rows with their provenance, and load cases."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.errors import RecordError
from ridelog.names import End
from ridelog.storage.records import AxleLoad, Load, LoadCase, LoadItem, Provenance, Source, StoredBike
from ridelog.storage.store import Logbook
from suspension.quantities.quantity import Quantity
from tests.helpers.made_records import TYPED, entry, new_logbook, put_bike

OTHER = Provenance(Source.TYPED, "0.1-test", who="B. Other")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as logbook:
        yield logbook


def count(book: Logbook, table: str) -> int:
    found: int = book.connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
    return found


def test_a_provenance_is_kept_once_and_goes_with_each_row(book: Logbook) -> None:
    for name, origin in (("a", TYPED), ("b", TYPED), ("c", OTHER)):
        book.bikes.put(StoredBike(name, origin))
    assert count(book, "provenance") == 2
    found = book.bikes.records(StoredBike, "name >= ?", "b")
    assert [(one.name, one.provenance) for one in found] == [("b", TYPED), ("c", OTHER)]


def case(name: str, mass: float, origin: Provenance = TYPED) -> LoadCase:
    rider = LoadItem(Load.RIDER, origin, Quantity(mass, 0.5), Quantity(780.0, 10.0))
    bag = LoadItem(Load.LUGGAGE, origin, Quantity(12.0, 0.25), Quantity(1400.0, 25.0), label="tail bag")
    scale = AxleLoad(End.REAR, Quantity(160.0, 0.75), origin)
    return LoadCase(name, origin, (rider, bag), (scale,))


def test_load_cases_keep_what_they_are_made_of(book: Logbook) -> None:
    bike_id = put_bike(book).bike_id
    for one in (case("solo", 84.0), case("two up", 150.0, OTHER)):
        book.loads.put_case(bike_id, one)
    solo, two_up = book.loads.current(bike_id)
    assert [item.mass_kg for item in solo.items] == [Quantity(84.0, 0.5), Quantity(12.0, 0.25)]
    assert [item.aft_mm for item in two_up.items] == [Quantity(780.0, 10.0), Quantity(1400.0, 25.0)]
    assert [item.label for item in two_up.items] == [None, "tail bag"]
    assert [(load.axle, load.mass_kg) for load in solo.axle_loads] == [(End.REAR, Quantity(160.0, 0.75))]
    assert two_up.provenance == OTHER == two_up.items[0].provenance
    assert book.loads.find(bike_id, "two up") == two_up and book.loads.find(bike_id, "three up") is None


def test_a_ride_keeps_the_load_that_was_in_force(book: Logbook) -> None:
    version = put_bike(book)
    first = book.loads.put_case(version.bike_id, case("solo", 84.0))
    ride = book.rides.add(version.bike_id, entry(version, load_case_id=first.id))
    second = book.loads.put_case(version.bike_id, case("solo", 90.0))
    assert second.replaces == first.id and book.loads.current(version.bike_id) == (second,)
    assert book.rides.get(ride.number).load_case == first == book.loads.get(first.id)
    assert book.loads.names(version.bike_id) == {first.id: "solo", second.id: "solo"}


def test_a_load_case_that_fails_half_way_leaves_nothing(book: Logbook) -> None:
    bike_id = put_bike(book).bike_id
    heavy = LoadItem(Load.OTHER, TYPED, Quantity(-5.0, 0.5))  # the schema refuses a negative mass
    before = {table: count(book, table) for table in ("provenance", "load_case", "load_item")}
    with pytest.raises(RecordError, match="refuses this record"):
        book.loads.put_case(bike_id, LoadCase("solo", OTHER, (*case("solo", 84.0, OTHER).items, heavy)))
    assert {table: count(book, table) for table in before} == before


def test_a_load_of_which_only_the_name_is_known(book: Logbook) -> None:
    bike_id = put_bike(book).bike_id
    named = book.loads.named(bike_id, "camping", TYPED)
    assert named.items == () and named.axle_loads == ()
    assert book.loads.named(bike_id, "camping", OTHER) == named

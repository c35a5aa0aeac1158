"""Open events stop riding [common practice], and tyre pressures are compared with the placard, within 0.2 bar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.names import End
from ridelog.storage.records import Load, LoadCase, LoadItem
from ridelog.storage.store import Logbook
from strandline.facts.events import open_events, tyre_fault
from tests.helpers.made_records import BIKE, TYPED, bike_file, entry, new_logbook, put_bike

PLACARD = bike_file(BIKE.replace("[rear]\n", '[rear]\ntyre_solo = "2.5 bar"\ntyre_loaded = "2.9 bar"\n')).bike
SOLO = LoadCase("solo", TYPED, (LoadItem(Load.RIDER, TYPED),))
TWO_UP = LoadCase("two-up", TYPED, (LoadItem(Load.RIDER, TYPED), LoadItem(Load.PASSENGER, TYPED)))


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as opened:
        yield opened


def test_an_event_is_open_until_an_entry_clears_it(book: Logbook) -> None:
    version = put_bike(book)

    def put(day: int, **more: object) -> tuple[str, ...]:
        book.rides.add(version.bike_id, entry(version, day, **more))
        return open_events(book.rides.all_rides())

    assert put(1, events=("Oil leak front",)) == ("Oil leak front",)
    assert put(2) == ("Oil leak front",)
    assert put(3, events=("hard knock",)) == ("Oil leak front", "hard knock")
    assert put(4, events_cleared=("oil  leak FRONT",)) == ("hard knock",)
    assert put(5, events_cleared=("hard knock",)) == ()
    assert put(6, events=("oil leak front",)) == ("oil leak front",)  # it leaks again
    last = book.rides.get(6)
    book.rides.withdraw(last, replace(TYPED, id="f" * 32))
    assert open_events(book.rides.all_rides(withdrawn=True)) == ()


@pytest.mark.parametrize(
    ("kpa", "case", "wrong"),
    [
        (140, SOLO, True),
        (231, SOLO, False),
        (269, SOLO, False),
        (290, SOLO, True),
        (250, TWO_UP, True),
        (290, TWO_UP, False),
        (290, None, False),
        (200, None, True),
        (None, SOLO, False),
    ],
)
def test_tyre_pressures_against_the_placard(
    kpa: float | None, case: LoadCase | None, wrong: bool, book: Logbook
) -> None:
    facts = entry(put_bike(book), rear_pressure_kpa=kpa)
    fault = tyre_fault(PLACARD, End.REAR, facts, case)
    assert (fault is not None) is wrong
    assert tyre_fault(PLACARD, End.FRONT, replace(facts, front_pressure_kpa=100.0), case) is None


def test_words_of_a_fault(book: Logbook) -> None:
    facts = entry(put_bike(book), rear_pressure_kpa=140.0)
    assert (
        tyre_fault(PLACARD, End.REAR, facts, SOLO) == "The rear tyre had 1.4 bar, the placard says 2.5 bar."
    )

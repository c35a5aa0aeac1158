"""A logbook's rides as one end saw them, by the trade's check values.

Fork E0 205 mm: 113 mm remaining are 92 mm used. Shock E0 80 mm: 15 mm remaining are 65 mm used, 28 mm are 52 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.names import AdjusterKind, Confidence, CountedFrom, End, LegName
from ridelog.storage.records import Reading, Setting
from ridelog.storage.store import Logbook
from strandline.facts.ends import end_facts
from strandline.facts.rides import NO_LOAD, BikeLog, EndRide, end_rides, gather
from strandline.facts.risk import runs_of
from tests.helpers.made_records import (
    TYPED,
    bike_file,
    entry,
    new_logbook,
    put_bike,
    put_load,
    rear_preload,
    remaining,
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as opened:
        yield opened


def front_preload(leg: LegName, turns: float) -> Setting:
    return Setting(leg, "preload", AdjusterKind.TURNS, CountedFrom.SOFT, TYPED, turns)


def both(turns: float) -> list[Setting]:
    return [front_preload(LegName.FRONT_LEFT, turns), front_preload(LegName.FRONT_RIGHT, turns)]


def put(book: Logbook, day: int, settings: list[Setting], readings: list[Reading], **more: object) -> None:
    version = put_bike(book)
    book.rides.add(version.bike_id, entry(version, day, **more), settings, readings)


def seen(book: Logbook, end: End) -> tuple[BikeLog, tuple[EndRide, ...]]:
    log = gather(book, bike_file().bike)
    return log, end_rides(log, end_facts(log.bike, end))


def test_each_run_keeps_its_own_route_count_and_depth(book: Logbook) -> None:
    put(book, 1, [rear_preload(4)], [remaining(LegName.REAR, 15)], route="Ridge loop")
    put(book, 2, [rear_preload(6)], [remaining(LegName.REAR, 28)], route="Motorway")
    put(book, 3, [rear_preload(6)], [remaining(LegName.REAR, 20)], route=None)
    log, rides = seen(book, End.REAR)
    found = runs_of(rides, log, End.REAR)
    assert [(run.route, run.count) for run in found] == [("ridge loop", 4), ("motorway", 6), ("", 6)]
    assert [run.used_mm.value for run in found] == pytest.approx([65, 52, 60])
    assert [run.load for run in found] == [NO_LOAD] * 3


def test_a_run_carries_the_load_of_its_ride(book: Logbook) -> None:
    case = put_load(book)
    put(book, 1, [rear_preload(4)], [remaining(LegName.REAR, 15)], load_case_id=case.id)
    log, rides = seen(book, End.REAR)
    assert rides[0].load == "solo" and log.load_of(rides[0].ride).case == case
    assert [run.load for run in runs_of(rides, log, End.REAR)] == ["solo"]


def test_what_is_not_sure_is_no_run(book: Logbook) -> None:
    put(book, 1, [rear_preload(4, Confidence.IN_DOUBT)], [remaining(LegName.REAR, 15)])
    put(book, 2, [rear_preload(4)], [])
    put(book, 3, [], [remaining(LegName.REAR, 15)])
    log, rides = seen(book, End.REAR)
    assert len(rides) == 3 and runs_of(rides, log, End.REAR) == ()


def test_left_and_right_are_two_legs_and_the_deeper_one_counts(book: Logbook) -> None:
    put(book, 1, both(2), [remaining(LegName.FRONT_LEFT, 113), remaining(LegName.FRONT_RIGHT, 112.8)])
    put(book, 2, both(2), [remaining(LegName.FRONT_LEFT, 100), remaining(LegName.FRONT_RIGHT, 113)])
    _, (alike, apart) = seen(book, End.FRONT)
    assert alike.used_mm is not None and alike.used_mm.value == pytest.approx(92.2) and not alike.legs_differ
    # 105 and 92 mm differ by far more than 2 sqrt(2) u.
    assert apart.used_mm is not None and apart.used_mm.value == pytest.approx(105) and apart.legs_differ
    assert (apart.up, apart.count.is_sure) == (2, True)


def test_sides_set_differently_are_a_count_in_doubt(book: Logbook) -> None:
    put(
        book,
        1,
        [front_preload(LegName.FRONT_LEFT, 2), front_preload(LegName.FRONT_RIGHT, 3)],
        [remaining(LegName.FRONT_LEFT, 113)],
    )
    _, (ride,) = seen(book, End.FRONT)
    assert ride.count.confidence is Confidence.IN_DOUBT and "differently" in ride.problems[0]


def test_an_end_takes_nothing_from_the_other(book: Logbook) -> None:
    put(book, 1, [rear_preload(4)], [remaining(LegName.FRONT_LEFT, 113)])
    _, (front,) = seen(book, End.FRONT)
    _, (rear,) = seen(book, End.REAR)
    assert front.has_reading and front.count.value is None
    assert not rear.has_reading and rear.up == 4


def test_a_marker_at_the_bumper_is_a_limit(book: Logbook) -> None:
    put(book, 1, [rear_preload(4)], [remaining(LegName.REAR, 2.5, at_stop=True)])
    _, (ride,) = seen(book, End.REAR)
    assert ride.at_far_end and ride.used_mm is not None and ride.used_mm.at_least
    # The marker of 2.5 mm met the bumper before the body did: E0 80 less its width.
    assert ride.used_mm.value == pytest.approx(77.5)


def test_counts_outside_the_adjuster_as_it_is_now_are_problems(book: Logbook) -> None:
    put(book, 1, [rear_preload(16)], [remaining(LegName.REAR, 15)])
    _, (ride,) = seen(book, End.REAR)
    assert ride.up is None and "16" in ride.problems[0]


def test_a_count_from_the_hard_end_is_turned_to_the_soft_one(book: Logbook) -> None:
    """15 clicks in all: 4 from the hard end are 11 from the soft one."""
    hard = Setting(LegName.REAR, "preload", AdjusterKind.CLICKS, CountedFrom.HARD, TYPED, 4)
    put(book, 1, [hard], [remaining(LegName.REAR, 15)])
    _, (ride,) = seen(book, End.REAR)
    assert ride.up == 11


def test_an_unknown_bike_has_no_log(book: Logbook) -> None:
    log = gather(book, bike_file().bike)
    assert (log.rides, dict(log.loads)) == ((), {})


def test_the_uncertainty_is_of_both_lengths(book: Logbook) -> None:
    """JCGM 100, 5.1.2: u² = u²(E0) + u²(gn); by ruler both are 0.25 mm."""
    put(book, 1, [rear_preload(4)], [remaining(LegName.REAR, 15)])
    _, (ride,) = seen(book, End.REAR)
    assert ride.used_mm is not None and ride.used_mm.sigma == pytest.approx(2**0.5 * 0.25)

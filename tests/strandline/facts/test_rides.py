"""A logbook's rides as one end saw them, by the trade's check values.

Fork E0 205 mm: 113 mm remaining are 92 mm used. Shock E0 80 mm: 15 mm remaining are 65 mm used, 28 mm are 52 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.names import AdjusterKind, Confidence, CountedFrom, End, LegName
from ridelog.storage.records import AxleLoad, Load, LoadCase, LoadItem, Reading, Setting
from ridelog.storage.store import Logbook
from strandline.facts.ends import end_facts
from strandline.facts.rides import NO_LOAD, BikeLog, EndRide, end_rides, gather
from strandline.facts.risk import runs_of
from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.quantities.quantity import Quantity
from suspension.springs.adjuster import Count
from tests.helpers.made_records import (
    BIKE,
    TYPED,
    bike_file,
    entry,
    length,
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


def test_only_readings_of_the_end_count_whatever_comes_first(book: Logbook) -> None:
    legs = ((LegName.REAR, 15.0), (LegName.FRONT_LEFT, 113.0))
    put(book, 1, [rear_preload(4)], [remaining(leg, mm) for leg, mm in legs])
    put(book, 2, [rear_preload(4)], [remaining(leg, mm) for leg, mm in legs[::-1]])
    for end, used in ((End.FRONT, 92), (End.REAR, 65)):
        _, rides = seen(book, end)
        assert [one.used_mm and one.used_mm.value for one in rides] == pytest.approx([used, used])
        assert not any(one.at_far_end or one.legs_differ for one in rides)


def test_what_was_not_recorded_is_not_known(book: Logbook) -> None:
    put(book, 1, [rear_preload(4)], [remaining(LegName.FRONT_LEFT, 113)])
    _, (front,) = seen(book, End.FRONT)
    assert front.count == Count(None, CountedFrom.SOFT, Confidence.UNKNOWN)
    assert (front.up, front.problems) == (None, ())
    _, (rear,) = seen(book, End.REAR)
    assert (rear.at_far_end, rear.legs_differ) == (False, False)


def test_other_adjusters_of_the_end_are_not_its_preload(book: Logbook) -> None:
    rebound = Setting(LegName.FRONT_LEFT, "rebound", AdjusterKind.CLICKS, CountedFrom.HARD, TYPED, 11)
    put(book, 1, [rebound, *both(2)], [remaining(LegName.FRONT_LEFT, 113)])
    _, (ride,) = seen(book, End.FRONT)
    assert (ride.up, ride.count.is_sure, ride.problems) == (2, True, ())


def test_a_count_of_an_adjuster_that_the_file_no_longer_names(book: Logbook) -> None:
    put(book, 1, [rear_preload(4)], [remaining(LegName.REAR, 15)])
    text = BIKE[: BIKE.index("[leg.rear.adjuster.preload]")]
    log = gather(book, bike_file(text).bike)
    (ride,) = end_rides(log, end_facts(log.bike, End.REAR))
    assert (ride.count.value, ride.up) == (None, None) and "another kind of adjuster" in ride.problems[0]
    assert ride.used_mm is not None and ride.used_mm.value == pytest.approx(65)


def test_sides_apart_keep_the_first_count_and_one_side_in_doubt_is_both(book: Logbook) -> None:
    hard = [
        replace(front_preload(leg, turns), counted_from=CountedFrom.HARD)
        for leg, turns in ((LegName.FRONT_LEFT, 2), (LegName.FRONT_RIGHT, 3))
    ]
    put(book, 1, hard, [remaining(LegName.FRONT_LEFT, 113)])
    sure, doubtful = both(2)
    put(book, 2, [sure, replace(doubtful, confidence=Confidence.IN_DOUBT)], [])
    put(book, 3, both(2), [])
    _, rides = seen(book, End.FRONT)
    assert [one.count for one in rides] == [
        Count(2, CountedFrom.HARD, Confidence.IN_DOUBT),
        Count(2, CountedFrom.SOFT, Confidence.IN_DOUBT),
        Count(2, CountedFrom.SOFT, Confidence.COUNTED),
    ]
    assert [one.up for one in rides] == [4, 2, 2]  # 6 turns in all


def test_rides_that_are_no_runs_do_not_end_the_list(book: Logbook) -> None:
    put(book, 1, [rear_preload(4, Confidence.IN_DOUBT)], [remaining(LegName.REAR, 15)])
    put(book, 2, [rear_preload(4)], [remaining(LegName.REAR, 28)])
    log, rides = seen(book, End.REAR)
    assert [run.used_mm.value for run in runs_of(rides, log, End.REAR)] == pytest.approx([52])


def weighed(front_kg: float, rear_kg: float) -> LoadCase:
    found = ((End.FRONT, front_kg), (End.REAR, rear_kg))
    return LoadCase("solo", TYPED, (), tuple(AxleLoad(axle, Quantity(kg, 0.5), TYPED) for axle, kg in found))


def test_a_run_carries_the_sprung_load_of_its_end_as_it_was_then(book: Logbook) -> None:
    """(170 - 20) g behind at the first ride, (180 - 20) g at the second; in front (118 - 15) g at both."""
    version = put_bike(book)
    for day, rear_kg in ((1, 170.0), (2, 180.0)):
        case = book.loads.put_case(version.bike_id, weighed(118.0, rear_kg))
        readings = [remaining(LegName.REAR, 15), remaining(LegName.FRONT_LEFT, 113)]
        put(book, day, [rear_preload(4), *both(2)], readings, load_case_id=case.id)
    text = BIKE.replace("[front]\n", '[front]\nunsprung = "15 kg"\n')
    text = text.replace("[rear]\n", '[rear]\nunsprung = "20 kg"\n')
    log = gather(book, bike_file(text).bike)
    for end, sprung_kg in ((End.REAR, (150, 160)), (End.FRONT, (103, 103))):
        runs = runs_of(end_rides(log, end_facts(log.bike, end)), log, end)
        expected = [kg * GRAVITY_M_PER_S2 for kg in sprung_kg]
        assert [run.sprung_n for run in runs] == pytest.approx(expected)
    assert [log.load_of(ride).name for ride in log.rides] == ["solo", "solo"]


def test_a_load_of_which_the_ride_knew_the_name_alone_is_as_known_now(book: Logbook) -> None:
    version = put_bike(book)
    named = book.loads.put_case(version.bike_id, LoadCase("solo", TYPED))
    put(book, 1, [rear_preload(4)], [], load_case_id=named.id)
    put(book, 2, [rear_preload(4)], [])
    rider = LoadItem(Load.RIDER, TYPED, Quantity(80, 0.5), length(700, 20))
    case = book.loads.put_case(version.bike_id, LoadCase("solo", TYPED, (rider,)))
    log, _ = seen(book, End.REAR)
    solo, none = (log.load_of(ride) for ride in log.rides)
    assert (solo.name, solo.case) == ("solo", case) and log.loads["solo"] == solo
    assert (none.name, none.case, none.axles) == (NO_LOAD, None, None)
    # One that had its own items then keeps them.
    put(book, 3, [rear_preload(4)], [], load_case_id=case.id)
    heavier = replace(rider, mass_kg=Quantity(90, 0.5), id="9" * 32)
    book.loads.put_case(version.bike_id, LoadCase("solo", TYPED, (heavier,)))
    log, _ = seen(book, End.REAR)
    assert log.load_of(log.rides[2]).case == case and log.loads["solo"].case != case


def test_another_bikes_rides_and_loads_are_not_taken(book: Logbook) -> None:
    other = book.bikes.put_file(bike_file(BIKE.replace("Grey twin", "Red single")), TYPED)
    book.loads.put_case(other.bike_id, LoadCase("two-up", TYPED))
    book.rides.add(other.bike_id, entry(other, 1), [rear_preload(9)], [])
    put(book, 2, [rear_preload(4)], [])
    put_load(book)
    log, rides = seen(book, End.REAR)
    assert (
        [one.up for one in rides] == [4]
        and set(log.loads) == {"solo"}
        and set(log.then) == {ride.entry.bike_version_id for ride in log.rides}
    )


def test_a_log_of_an_unknown_bike_still_has_the_bike(book: Logbook) -> None:
    log = gather(book, bike_file().bike)
    assert log.bike == bike_file().bike and (dict(log.then), dict(log.loads)) == ({}, {})

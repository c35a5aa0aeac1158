"""Which rides speak for today's settings: the trade pools runs only where spring, preload at the soft end, step, ratio,
E0, S, air, the other counts and tyre pressures (within 0.2 bar) are those of today [common practice].
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.names import AdjusterKind, CountedFrom, End, LegName
from ridelog.storage.records import LoadCase, Setting
from ridelog.storage.store import Logbook
from strandline.facts.comparable import changed_parts, comparable_rides
from strandline.facts.ends import end_facts
from strandline.facts.rides import end_rides, gather
from tests.helpers.made_records import (
    BIKE,
    TYPED,
    bike_file,
    entry,
    new_logbook,
    put_bike,
    rear_preload,
    remaining,
)

FORK = '[leg.front-left.spring]\nrate = "9.0 N/mm"\n'
SPRUNG = BIKE.replace(
    "[leg.rear.marker]", '[leg.rear.spring]\nrate = "18 N/mm"\npreload_at_soft = "10 mm"\n\n[leg.rear.marker]'
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as opened:
        yield opened


def rebound(count: float) -> Setting:
    return Setting(LegName.FRONT_LEFT, "rebound", AdjusterKind.CLICKS, CountedFrom.HARD, TYPED, count)


def put(
    book: Logbook, day: int, text: str = SPRUNG, settings: tuple[Setting, ...] = (), **more: object
) -> None:
    version = book.bikes.put_file(bike_file(text), TYPED)
    book.rides.add(
        version.bike_id,
        entry(version, day, **more),
        [rear_preload(), *settings],
        [remaining(LegName.REAR, 15), remaining(LegName.FRONT_LEFT, 113)],
    )


def sorted_out(book: Logbook, end: End, text: str = SPRUNG) -> tuple[list[int], tuple[str, ...]]:
    log = gather(book, bike_file(text).bike)
    rides = end_rides(log, end_facts(log.bike, end))
    kept, left_out = comparable_rides(rides, log.bike, log.then, end)
    return [one.ride.number for one in kept], left_out


def test_another_spring_leaves_earlier_rides_out_and_counts_them(book: Logbook) -> None:
    put(book, 1, SPRUNG.replace("18 N/mm", "20 N/mm"))
    put(book, 2, SPRUNG.replace("18 N/mm", "20 N/mm"))
    put(book, 3)
    kept, (words,) = sorted_out(book, End.REAR)
    assert kept == [3] and words.startswith(
        "2 rides are left out (1 and 2): made with another spring than today."
    )
    assert "--bike-file-now" in words
    assert sorted_out(book, End.FRONT) == ([1, 2, 3], ())


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('preload_at_soft = "10 mm"', 'preload_at_soft = "14 mm"', "another preload at the soft end"),
        ('step = "1.0 mm"', 'step = "1.5 mm"', "another worth of a step"),
        ('"40 mm", 0.74', '"40 mm", 0.70', "another motion ratio"),
        ('extended = "80 mm"', 'extended = "84 mm"', "another stroke or extended length"),
        ('bumper_free = "20 mm"', 'bumper_free = "26 mm"', "another stroke or extended length"),
    ],
)
def test_each_part(old: str, new: str, what: str) -> None:
    assert old in SPRUNG
    then, now = bike_file(SPRUNG).bike, bike_file(SPRUNG.replace(old, new)).bike
    assert changed_parts(then, now, End.REAR) == (what,)
    assert changed_parts(then, then, End.REAR) == ()


def test_air_of_a_fork() -> None:
    air = '[leg.front-left.air]\npiston_diameter = "41 mm"\nvolume = "{} ml"\npressure_absolute = "1.013 bar"\n\n'
    then, now = (
        bike_file(SPRUNG.replace("[leg.front-left.marker]", air.format(ml) + "[leg.front-left.marker]")).bike
        for ml in (300, 285)
    )
    assert changed_parts(then, now, End.FRONT) == ("other air in the fork",)


def test_a_value_learnt_later_or_measured_again_is_no_change() -> None:
    then, now = (
        bike_file(BIKE).bike,
        bike_file(SPRUNG.replace('extended = "80 mm"', 'extended = "80.3 mm"')).bike,
    )
    assert changed_parts(then, now, End.REAR) == ()


def test_another_damping_count_leaves_out_also_where_it_was_not_typed(book: Logbook) -> None:
    put(book, 1, settings=(rebound(8),))
    put(book, 2)
    put(book, 3, settings=(rebound(12),))
    put(book, 4)
    kept, (words,) = sorted_out(book, End.FRONT)
    assert kept == [3, 4] and "another rebound setting" in words and "(1 and 2)" in words
    assert sorted_out(book, End.REAR)[0] == [1, 2, 3, 4]


def test_tyre_pressures_within_two_tenths_of_a_bar_are_the_same(book: Logbook) -> None:
    for day, kpa in ((1, 220.0), (2, 235.0), (3, None), (4, 250.0)):
        put(book, day, rear_pressure_kpa=kpa)
    kept, (words,) = sorted_out(book, End.REAR)
    assert kept == [2, 3, 4] and words.startswith("1 ride is left out (1)") and "tyre pressure" in words


def test_whether_a_leg_has_a_spring_must_be_known_of_both_states() -> None:
    with_spring = SPRUNG.replace('layout = "shock"\n', 'layout = "shock"\nhas_spring = {}\n')
    unknown, has, has_none = (
        bike_file(text).bike for text in (SPRUNG, with_spring.format("true"), with_spring.format("false"))
    )
    assert changed_parts(unknown, has, End.REAR) == changed_parts(has, unknown, End.REAR) == ()
    assert changed_parts(has_none, has, End.REAR) == ("another spring",)


def test_a_bumper_that_only_one_state_gives_is_no_change() -> None:
    """Its hard stop is known then, the other's is not."""
    without = SPRUNG.replace('bumper_free = "20 mm"\nbumper_crushed = "8 mm"\n', "")
    assert without != SPRUNG
    then, now = bike_file(without).bike, bike_file(SPRUNG).bike
    assert changed_parts(then, now, End.REAR) == changed_parts(now, then, End.REAR) == ()


def test_an_adjuster_that_only_one_state_gives_is_no_change() -> None:
    without = SPRUNG[: SPRUNG.index("[leg.rear.adjuster.preload]")]
    then, now = bike_file(without).bike, bike_file(SPRUNG).bike
    assert changed_parts(then, now, End.REAR) == changed_parts(now, then, End.REAR) == ()


def test_pressures_are_compared_with_the_same_load_s(book: Logbook) -> None:
    bike = put_bike(book).bike_id
    loads = [book.loads.put_case(bike, LoadCase(name, TYPED)).id for name in ("solo", "passenger")]
    for day, kpa, load in ((1, 220.0, 0), (2, 270.0, 1), (3, 225.0, 0), (4, 265.0, 1)):
        put(book, day, rear_pressure_kpa=kpa, load_case_id=loads[load])
    assert sorted_out(book, End.REAR) == ([1, 2, 3, 4], ())


def test_pressures_two_tenths_of_a_bar_apart_are_the_same(book: Logbook) -> None:
    for day, kpa in ((1, 220.0), (2, 240.0)):
        put(book, day, rear_pressure_kpa=kpa)
    assert sorted_out(book, End.REAR) == ([1, 2], ())


def test_more_than_two_rides_are_named_by_the_first_and_the_last(book: Logbook) -> None:
    for day in (1, 2, 3, 4):
        put(book, day, SPRUNG.replace("18 N/mm", "20 N/mm"))
    put(book, 5)
    assert sorted_out(book, End.REAR)[1][0].startswith("4 rides are left out (1 to 4): ")

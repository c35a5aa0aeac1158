"""Sags of a session by known numbers.

Sources: static = L0 - mean(L1a, L1b), rider = L0 - mean(L2a, L2b), friction of about kw |L1a - L1b| / 2, and the
windows of the trade's practice (street: front static 15 to 22 %, rider 25 to 35 %; rear static 5 to 12 %).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.bikes.bike import Bike
from ridelog.bikes.file import parse_bike
from ridelog.errors import RecordError
from ridelog.names import End, LegName
from ridelog.storage.records import Approach, SagLength, SagMeasurement, SagSession
from ridelog.storage.store import Logbook
from strandline.facts.ends import end_facts
from strandline.facts.rides import BikeLog, end_rides, gather
from strandline.facts.sag import PlaceSag, of_end, place_sags, sag_at, sag_sessions
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.sag import Sag, SagScale, TwoApproaches, sag_from_lengths
from suspension.sag.windows import Judgement, Use, WhichSag
from suspension.stroke.leg import State
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

BELOW, ABOVE, ONE = Approach.FROM_BELOW, Approach.FROM_ABOVE, Approach.NOT_STATED
# Front, axle to tail: hanging 612; on its wheels 588 risen, 592 settled; rider aboard 578 and 582 mm.
FRONT = (
    (State.HANGING, ONE, 612.0),
    (State.ON_WHEELS, BELOW, 588.0),
    (State.ON_WHEELS, ABOVE, 592.0),
    (State.RIDER_ABOARD, BELOW, 578.0),
    (State.RIDER_ABOARD, ABOVE, 582.0),
)


def session(
    lengths: tuple[tuple[State, Approach, float], ...],
    place: LegName = LegName.FRONT,
    what: SagLength = SagLength.AXLE_TO_TAIL,
) -> SagSession:
    found = tuple(
        SagMeasurement(place, what, state, length(mm), TYPED, approach) for state, approach, mm in lengths
    )
    return SagSession(dt.date(2026, 5, 2), "", TYPED, found)


def test_static_and_rider_sag_of_an_end() -> None:
    (front,) = place_sags(session(FRONT), bike_file().bike, Use.STREET)
    static, rider = front.sag(WhichSag.STATIC), front.sag(WhichSag.RIDER)
    assert static is not None and rider is not None
    # 612 - (588 + 592)/2 = 22 mm, 612 - (578 + 582)/2 = 32 mm; of 108 mm: 20.4 and 29.6 %.
    assert (static.length.mm.value, rider.length.mm.value) == pytest.approx((22, 32))
    assert static.percent is not None and static.percent.value == pytest.approx(20.37, abs=0.01)
    assert rider.percent is not None and rider.percent.value == pytest.approx(29.63, abs=0.01)
    assert static.judgement is rider.judgement is Judgement.INSIDE
    assert (static.stiction_mm, rider.stiction_mm) == pytest.approx((4, 4))
    assert [(one.low, one.high) for one in front.windows if one is not None] == [(15, 22), (25, 35)]


def test_risen_and_settled_reach_the_arithmetic_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pushed down and risen is the shorter length, lifted and settled the longer, whichever was recorded first."""
    taken: list[TwoApproaches] = []

    def spy(which: WhichSag, hanging: Quantity, loaded: TwoApproaches, scale: SagScale) -> Sag:
        taken.append(loaded)
        return sag_from_lengths(which, hanging, loaded, scale)

    monkeypatch.setattr("strandline.facts.sag.sag_from_lengths", spy)
    place_sags(session(FRONT[::-1]), bike_file().bike, None)
    both = [(one.risen_mm.value, one.settled_mm and one.settled_mm.value) for one in taken]
    assert both == [(588, 592), (578, 582)]


def test_the_extended_length_serves_for_a_leg_that_was_not_hung() -> None:
    lengths = ((State.ON_WHEELS, BELOW, 173.0), (State.ON_WHEELS, ABOVE, 177.0))
    (leg,) = place_sags(session(lengths, LegName.FRONT_LEFT, SagLength.EXPOSED), bike_file().bike, None)
    static = leg.sag(WhichSag.STATIC)
    assert static is not None and leg.sag(WhichSag.RIDER) is None
    # E0 205 - 175 = 30 mm of stroke; at rake 25 degrees 30 cos 25 = 27.19 mm at the wheel.
    assert static.length.mm.value == pytest.approx(27.19, abs=0.01)
    assert static.judgement is Judgement.UNKNOWN


def test_what_is_missing_is_refused() -> None:
    with pytest.raises(RecordError, match="hanging free is not known"):
        place_sags(session(FRONT[1:]), bike_file().bike, None)
    with pytest.raises(RecordError, match="no length with the bike on its wheels"):
        place_sags(session(FRONT[:1]), bike_file().bike, None)
    with pytest.raises(SuspensionError, match=r"front, static sag.*higher"):
        place_sags(session((FRONT[0], (State.ON_WHEELS, ONE, 620.0))), bike_file().bike, None)


def test_friction_by_the_wheel_rate() -> None:
    """Springs of 9 N/mm in both legs at rake 25 degrees: kw = 18 / cos² 25 = 21.914 N/mm; times 4 mm / 2 = 43.8 N."""
    (front,) = place_sags(session(FRONT), bike_file().bike, None)
    assert front.sags[0].friction_n == pytest.approx(43.83, abs=0.1)


def test_axle_to_tail_speaks_for_an_end_before_a_leg_and_the_deeper_leg_before_the_other() -> None:
    def leg(place: LegName, mm: float) -> SagSession:
        lengths = ((State.HANGING, ONE, 205.0), (State.RIDER_ABOARD, ONE, mm))
        return session(lengths, place, SagLength.EXPOSED)

    bike = bike_file().bike
    both = replace(
        leg(LegName.FRONT_LEFT, 175.0),
        measurements=(
            *leg(LegName.FRONT_LEFT, 175.0).measurements,
            *leg(LegName.FRONT_RIGHT, 171.0).measurements,
        ),
    )
    deeper = of_end(place_sags(both, bike, None), End.FRONT)
    assert deeper is not None and deeper.place is LegName.FRONT_RIGHT
    whole = replace(both, measurements=(*both.measurements, *session(FRONT).measurements))
    chosen = of_end(place_sags(whole, bike, None), End.FRONT)
    assert chosen is not None and chosen.what is SagLength.AXLE_TO_TAIL
    assert of_end(place_sags(whole, bike, None), End.REAR) is None


REAR = (
    (State.HANGING, ONE, 600.0),
    (State.RIDER_ABOARD, BELOW, 568.0),
    (State.RIDER_ABOARD, ABOVE, 572.0),
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as opened:
        yield opened


def with_travel() -> Bike:
    return parse_bike(BIKE.replace("[rear]\n", '[rear]\nwheel_travel = "100 mm"\n'), "x.toml").bike


def sag_of_last_ride(
    book: Logbook, load: str, counts: dict[int, int]
) -> tuple[PlaceSag | None, float | None, tuple[str, ...]]:
    """Sag on 2 May with the load solo; rides on the days given, each at its count."""
    version, case = put_bike(book), put_load(book)
    book.sag.add(
        version.bike_id,
        replace(session(REAR, LegName.REAR), bike_version_id=version.id, load_case_id=case.id),
    )
    for day, count in counts.items():
        book.rides.add(
            version.bike_id, entry(version, day), [rear_preload(count)], [remaining(LegName.REAR, 15)]
        )
    log = gather(book, with_travel())
    rides = end_rides(log, end_facts(log.bike, End.REAR))
    return sag_at(sag_sessions(book, log), log, load, End.REAR, rides)


def test_sag_belongs_to_the_count_of_the_rides_about_its_day(book: Logbook) -> None:
    found, count, remarks = sag_of_last_ride(book, "solo", {1: 4, 3: 6})
    # 600 - 570 = 30 mm of 100: inside 25 to 35 %; measured on the 2nd, after the ride at 4 clicks.
    rider = None if found is None else found.sag(WhichSag.RIDER)
    assert rider is not None and rider.judgement is Judgement.INSIDE and count == 4 and remarks == ()


def test_sag_before_the_first_ride_belongs_to_the_count_of_that_ride(book: Logbook) -> None:
    assert sag_of_last_ride(book, "solo", {3: 6})[1] == 6


def test_sag_of_another_load_does_not_count(book: Logbook) -> None:
    assert sag_of_last_ride(book, "two-up", {1: 4}) == (None, None, ())


def test_sag_over_the_whole_travel_and_less_with_the_rider_is_refused() -> None:
    """168 % of 108 mm is 181 mm; on its wheels 22 mm, with the rider 10 mm."""
    lengths = ((State.HANGING, ONE, 612.0), (State.RIDER_ABOARD, ONE, 431.0))
    with pytest.raises(SuspensionError, match="168 % is more than the whole travel"):
        place_sags(session(lengths), bike_file().bike, Use.STREET)
    less = ((State.HANGING, ONE, 612.0), (State.ON_WHEELS, ONE, 590.0), (State.RIDER_ABOARD, ONE, 602.0))
    with pytest.raises(SuspensionError, match="12 mm less than static sag"):
        place_sags(session(less), bike_file().bike, Use.STREET)


# Shock by a table: 7.5 N/mm to 20 mm of stroke, 10.25 N/mm beyond; 0.8 mm of stroke for each mm at the wheel.
TABLE = BIKE.replace(
    'motion_ratio = [\n  ["0 mm", 0.80],             # soft end\n  ["40 mm", 0.74],\n]\n',
    "motion_ratio = 0.8\n",
).replace(
    "[leg.rear.marker]\n",
    '[leg.rear.spring]\ntable = [["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]]\n\n[leg.rear.marker]\n',
)


@pytest.mark.parametrize(
    ("what", "hanging_mm", "rider_mm", "friction_n"),
    [
        # 24 mm at the wheel are 19.2 mm of stroke: 7.5 * 0.8² = 4.8 N/mm, times 4 mm / 2.
        (SagLength.AXLE_TO_TAIL, 600.0, (574.0, 578.0), 9.6),
        # 22 mm of stroke: 10.25 * 0.8² = 6.56 N/mm; 2 mm of stroke are 2.5 mm at the wheel.
        (SagLength.EXPOSED, 80.0, (57.0, 59.0), 8.2),
        # Hardly sunk, or not at all.
        (SagLength.AXLE_TO_TAIL, 600.0, (598.5, 600.5), 4.8),
        (SagLength.AXLE_TO_TAIL, 600.0, (599.0, 601.0), 4.8),
    ],
)
def test_friction_by_the_rate_where_the_end_stands(
    what: SagLength, hanging_mm: float, rider_mm: tuple[float, float], friction_n: float
) -> None:
    risen, settled = rider_mm
    lengths = (
        (State.HANGING, ONE, hanging_mm),
        (State.RIDER_ABOARD, BELOW, risen),
        (State.RIDER_ABOARD, ABOVE, settled),
    )
    (rear,) = place_sags(session(lengths, LegName.REAR, what), parse_bike(TABLE, "x.toml").bike, None)
    assert rear.sags[0].friction_n == pytest.approx(friction_n)


@pytest.mark.parametrize(
    ("static_mm", "hint"), [(588.0, None), (582.0, "too stiff"), (612.0, "too soft"), (588.5, None)]
)
def test_both_sags_say_whether_the_spring_fits(static_mm: float, hint: str | None) -> None:
    """Rider 30 of 108 mm, 28 %: right. Static 24 mm 22 % and 23.5 mm are about the window's end, 30 mm is over it."""
    lengths = (
        (State.HANGING, ONE, 612.0),
        (State.ON_WHEELS, ONE, static_mm),
        (State.RIDER_ABOARD, ONE, 582.0),
    )
    (front,) = place_sags(session(lengths), bike_file().bike, Use.STREET)
    assert (front.hint is None) is (hint is None) and (hint or "") in (front.hint or "")


def test_a_length_after_settling_alone_stands_for_both() -> None:
    (front,) = place_sags(session((FRONT[0], (State.ON_WHEELS, ABOVE, 592.0))), bike_file().bike, None)
    assert front.sags[0].length.mm.value == pytest.approx(20) and front.sags[0].stiction_mm is None


def test_a_leg_without_rider_sag_comes_after_one_with_it_however_little() -> None:
    hung, without = (State.HANGING, ONE, 205.0), (State.ON_WHEELS, ONE, 175.0)
    left = session((hung, without), LegName.FRONT_LEFT, SagLength.EXPOSED)
    right = session((hung, (State.RIDER_ABOARD, ONE, 204.5)), LegName.FRONT_RIGHT, SagLength.EXPOSED)
    both = replace(left, measurements=(*left.measurements, *right.measurements))
    found = of_end(place_sags(both, bike_file().bike, None), End.FRONT)
    assert found is not None and found.place is LegName.FRONT_RIGHT


def test_sag_of_the_same_day_belongs_to_that_days_count(book: Logbook) -> None:
    assert sag_of_last_ride(book, "solo", {1: 4, 2: 5, 3: 6})[1] == 5


def test_sag_before_all_rides_belongs_to_the_first_of_them(book: Logbook) -> None:
    assert sag_of_last_ride(book, "solo", {3: 6, 4: 8})[1] == 6


def test_rides_without_a_count_say_nothing_of_the_sags(book: Logbook) -> None:
    version = put_bike(book)
    for day in (1, 3):
        book.rides.add(version.bike_id, entry(version, day), [], [remaining(LegName.REAR, 15)])
    assert sag_of_last_ride(book, "solo", {})[1] is None
    book.rides.add(version.bike_id, entry(version, 4), [rear_preload(8)], [remaining(LegName.REAR, 15)])
    log = gather(book, with_travel())
    rides = end_rides(log, end_facts(log.bike, End.REAR))
    assert sag_at(sag_sessions(book, log), log, "solo", End.REAR, rides)[1] == 8


def test_newer_sags_that_do_not_tell_are_passed_over() -> None:
    """Of another load, and without the rider: the older session of this load still counts."""
    told = session(REAR, LegName.REAR)
    static = session((REAR[0], (State.ON_WHEELS, ONE, 590.0)), LegName.REAR)
    log = BikeLog(with_travel(), (), {}, {})
    for newer in ((told, "two-up"), (static, "solo")):
        deeper = session((REAR[0], (State.RIDER_ABOARD, ONE, 566.0)), LegName.REAR)
        found, _, _ = sag_at(((deeper, "solo"), newer), log, "solo", End.REAR, ())
        rider = None if found is None else found.sag(WhichSag.RIDER)
        assert rider is not None and rider.length.mm.value == pytest.approx(34)

"""A stored reading used again: each length, covariance and marker goes where it came from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import RecordError
from ridelog.names import LegName
from ridelog.storage.records import Reading, new_id
from strandline.facts.readings import answer_for, bike_then, bikes_then, covariance, stroke_question
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, MarkerKind
from suspension.stroke.stroke import StrokeAnswer
from tests.helpers.made_records import BIKE, PHOTO, bike_file, entry, fork_reading, new_logbook, put_bike

# Standard uncertainties of E, d, gn, and what they share; all different, so that none can be swapped unseen.
READING = Reading(
    LegName.FRONT_LEFT,
    PHOTO,
    State.ON_WHEELS,
    exposed_mm=Quantity(175.0, 0.5),
    marker_mm=Quantity(62.0, 0.4),
    remaining_mm=Quantity(113.0, 0.3),
    at_stop=False,
    exposed_marker_mm2=0.16,
    exposed_remaining_mm2=0.09,
    marker_remaining_mm2=0.02,
)


def test_covariances_stand_between_the_lengths_that_they_are_of() -> None:
    found = covariance(READING)
    assert found is not None
    rows = ((0.25, 0.16, 0.09), (0.16, 0.16, 0.02), (0.09, 0.02, 0.09))
    assert [*map(pytest.approx, rows)] == [*found]
    asked = stroke_question(READING, bike_file().bike.leg("front-left"))
    of = asked.lengths.covariance_of
    assert (of(0, 1), of(0, 2), of(1, 2)) == pytest.approx((0.16, 0.09, 0.02))
    assert covariance(fork_reading()) is None


def test_used_stroke_is_as_uncertain_as_its_covariances_say() -> None:
    """u = E0 - E + d where gn was not read: u²(u) = u²(E0) + u²(E) + u²(d) - 2 u(E, d).

    JCGM 100, 5.2.2, by hand: 0.25² + 0.25 + 0.16 - 2 * 0.16 = 0.1525; the o-ring adds nothing. With the
    covariance of another pair in its place it would be 0.2925 or 0.4325.
    """
    answer = answer_for(replace(READING, remaining_mm=None), bike_file().bike)
    assert isinstance(answer, StrokeAnswer) and answer.used_mm is not None
    assert answer.used_mm.value == pytest.approx(92)  # the trade's check value: c 30, u 92
    assert answer.used_mm.sigma**2 == pytest.approx(0.1525)


def test_a_covariance_that_was_not_kept_counts_as_none() -> None:
    found = covariance(replace(READING, exposed_remaining_mm2=None))
    assert found is not None and (found[0][1], found[0][2], found[1][2]) == (0.16, 0.0, 0.02)


def test_the_marker_is_the_one_that_was_on_the_shaft() -> None:
    leg = bike_file().bike.leg("front-left")  # an o-ring of 3.6 mm
    own = stroke_question(READING, leg).marker
    assert (own.kind, own.lock) == (MarkerKind.O_RING, LockFacing.UNKNOWN)
    assert own.width_mm is not None and own.width_mm.value == 3.6
    tie = replace(
        READING,
        marker_kind=MarkerKind.TIE,
        marker_lock=LockFacing.MEETS_SEAL,
        marker_width_mm=Quantity(4.8, 0.05),
    )
    then = stroke_question(tie, leg).marker
    assert (then.kind, then.lock) == (MarkerKind.TIE, LockFacing.MEETS_SEAL)
    assert then.width_mm is not None and then.width_mm.value == 4.8


def test_a_marker_that_was_not_recorded_is_the_bikes() -> None:
    leg = replace(bike_file().bike.leg("rear"), marker_kind=MarkerKind.TIE, marker_lock=LockFacing.MEETS_SEAL)
    marker = stroke_question(replace(READING, leg=LegName.REAR), leg).marker
    assert (marker.kind, marker.lock) == (MarkerKind.TIE, LockFacing.MEETS_SEAL)


def test_a_length_that_was_not_measured_has_no_variance() -> None:
    found = covariance(replace(READING, marker_mm=None))
    assert found is not None and found[1][1] == 0.0 and found[0][0] == pytest.approx(0.25)


def test_state_stop_and_reset_are_handed_on() -> None:
    leg = bike_file().bike.leg("front-left")
    asked = stroke_question(
        replace(READING, state=State.HANGING, at_stop=True, reset_compression_mm=Quantity(12.0, 0.25)), leg
    )
    assert asked.state is State.HANGING and asked.at_stop is True
    assert asked.reset_compression_mm == Quantity(12.0, 0.25)
    assert asked.leg == leg.leg


def test_a_leg_that_the_bike_does_not_have_is_an_answer_too() -> None:
    assert isinstance(answer_for(replace(READING, leg=LegName.REAR_LEFT), bike_file().bike), RecordError)


def test_each_ride_has_the_bike_as_it_was_then(tmp_path: Path) -> None:
    with new_logbook(tmp_path) as book:
        old = put_bike(book)
        new = book.bikes.put_file(bike_file(BIKE.replace('"120 mm"', '"118 mm"')), PHOTO)
        rides = [book.rides.add(old.bike_id, entry(version, day)) for day, version in ((1, old), (2, new))]
        strokes = {}
        for version, bike in bikes_then(book, rides, old.bike_id).items():
            stroke = bike.leg("front-left").stroke
            assert stroke is not None
            strokes[version] = stroke.value
        assert strokes == {old.id: 120.0, new.id: 118.0}
        assert bike_then(book, rides[1]).leg("front-left").stroke is not None
        assert new_id() not in strokes

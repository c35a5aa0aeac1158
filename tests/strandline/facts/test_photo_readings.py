"""One mapping from a photo's reading to the log, by known numbers in and out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ridelog.errors import RecordError
from ridelog.names import LegName
from ridelog.storage.records import Approach, SagLength, Source
from strandline import __version__
from strandline.facts.photo_readings import PhotoReading, log_reading, log_sag_length
from strandline.facts.readings import covariance
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind
from suspension.stroke.shaft_lengths import ShaftLengths

# The adjustment's own variances are a quarter of those that are reported: its correlations count, 0.7, 0.6, -0.25.
LENGTHS = ShaftLengths(
    Quantity(175.0, 0.5),
    Quantity(62.0, 0.4),
    Quantity(113.0, 0.3),
    ((0.0625, 0.035, 0.0225), (0.035, 0.04, -0.0075), (0.0225, -0.0075, 0.0225)),
)
PHOTO = PhotoReading(
    "front left/IMG 1.jpg",
    "ab" * 32,
    LENGTHS,
    Marker(MarkerKind.TIE, Quantity(4.8, 0.05), LockFacing.MEETS_SEAL),
    State.ON_WHEELS,
    False,
)


def test_everything_goes_where_it_belongs() -> None:
    found = log_reading(LegName.FRONT_LEFT, PHOTO, "A. Tester")
    assert (found.leg, found.state, found.at_stop) == (LegName.FRONT_LEFT, State.ON_WHEELS, False)
    lengths = (found.exposed_mm, found.marker_mm, found.remaining_mm)
    assert lengths == (Quantity(175.0, 0.5), Quantity(62.0, 0.4), Quantity(113.0, 0.3))
    assert (found.marker_kind, found.marker_lock) == (MarkerKind.TIE, LockFacing.MEETS_SEAL)
    assert found.marker_width_mm == Quantity(4.8, 0.05)
    assert found.reset_compression_mm is None
    origin = found.provenance
    assert (origin.source, origin.photo_name, origin.photo_sha256, origin.who) == (
        Source.PHOTO,
        "IMG 1.jpg",
        "ab" * 32,
        "A. Tester",
    )
    assert origin.program_version == __version__


def test_covariances_have_the_correlations_of_the_adjustment_and_the_sizes_that_are_told() -> None:
    # By hand: 0.7 * 0.5 * 0.4, 0.6 * 0.5 * 0.3, -0.25 * 0.4 * 0.3.
    found = log_reading(LegName.FRONT_LEFT, PHOTO)
    assert found.exposed_marker_mm2 == pytest.approx(0.14)
    assert found.exposed_remaining_mm2 == pytest.approx(0.09)
    assert found.marker_remaining_mm2 == pytest.approx(-0.03)
    # Stored and used again, they are the same.
    again = covariance(found)
    assert again is not None and (again[0][1], again[0][2], again[1][2]) == pytest.approx((0.14, 0.09, -0.03))


def test_a_length_that_was_not_read_has_no_covariance() -> None:
    nan = math.nan
    only = ShaftLengths(
        LENGTHS.exposed_mm, None, None, ((0.0625, nan, nan), (nan, nan, nan), (nan, nan, nan))
    )
    found = log_reading(LegName.FRONT_LEFT, replace(PHOTO, lengths=only))
    assert (found.exposed_marker_mm2, found.exposed_remaining_mm2, found.marker_remaining_mm2) == (None,) * 3
    assert found.marker_mm is None and found.exposed_mm is not None
    matrix = ((0.0625, nan, 0.0225), (nan, 0.04, -0.0075), (0.0225, -0.0075, 0.0225))
    holed = log_reading(LegName.FRONT_LEFT, replace(PHOTO, lengths=replace(LENGTHS, covariance_mm2=matrix)))
    assert holed.exposed_marker_mm2 is None and holed.exposed_remaining_mm2 == pytest.approx(0.09)
    none = log_reading(LegName.FRONT_LEFT, replace(PHOTO, lengths=replace(LENGTHS, covariance_mm2=None)))
    assert none.exposed_marker_mm2 is None


def test_rounding_makes_a_kept_photo_the_same_as_one_read_on_the_spot() -> None:
    fine = replace(PHOTO, lengths=replace(LENGTHS, exposed_mm=Quantity.from_u95(175.00000049, 1.00000051)))
    coarse = replace(PHOTO, lengths=replace(LENGTHS, exposed_mm=Quantity.from_u95(175.0, 1.000001)))
    one, other = log_reading(LegName.FRONT_LEFT, fine), log_reading(LegName.FRONT_LEFT, coarse)
    assert replace(one, id=other.id, provenance=other.provenance) == other


def test_sag_takes_the_exposed_length() -> None:
    found = log_sag_length(LegName.REAR, replace(PHOTO, state=State.RIDER_ABOARD), Approach.FROM_ABOVE, "me")
    assert (found.place, found.what, found.state) == (LegName.REAR, SagLength.EXPOSED, State.RIDER_ABOARD)
    assert found.length_mm == Quantity(175.0, 0.5) and found.approach is Approach.FROM_ABOVE
    assert found.provenance.photo_name == "IMG 1.jpg" and found.provenance.who == "me"
    with pytest.raises(RecordError, match="exposed length was not read"):
        log_sag_length(LegName.REAR, replace(PHOTO, lengths=ShaftLengths()), Approach.FROM_ABOVE)


def test_a_name_that_is_no_text_is_kept_readable() -> None:
    found = log_reading(LegName.REAR, replace(PHOTO, file="day/IMG\udcff.jpg"))
    assert found.provenance.photo_name == "IMG\\xff.jpg"

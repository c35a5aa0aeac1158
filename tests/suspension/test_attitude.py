"""Pitch and trail from both ends, and the marker check. Check values: the trade's [derived there]."""

from __future__ import annotations

import math

import pytest

from suspension.errors import SuspensionError
from suspension.sag.attitude import Steering, pitch_deg, pitch_words
from suspension.stroke.marker import MARKER_CHECK


def test_pitch_check_value() -> None:
    """Front 7.6 mm lower and rear 9.9 mm higher over 1440 mm -> 0.70 degrees steeper."""
    assert pitch_deg(7.6, 9.9, 1440) == pytest.approx(0.70, abs=0.005)
    assert pitch_deg(-7.6, -9.9, 1440) == pytest.approx(-0.70, abs=0.005)
    with pytest.raises(SuspensionError):
        pitch_deg(1, 1, 0)


def test_trail_by_construction() -> None:
    """Draw it: where the steering axis meets the ground, less where the tyre does, with points and a line."""
    steering = Steering(25.0, 300.0, 40.0)
    rake = math.radians(25.0)
    axle = (0.0, 300.0)
    # a point of the axis: from the axle back, square to the axis, by the offset; forward is +x
    point = (axle[0] - 40.0 * math.cos(rake), axle[1] - 40.0 * math.sin(rake))
    # down along the axis, which leans forward towards the ground
    meets = point[0] + point[1] * math.tan(rake)
    assert steering.trail_mm == pytest.approx(meets - axle[0])


def test_steeper_is_less_trail() -> None:
    steering = Steering(25.0, 300.0, 40.0)
    assert steering.pitched(0.70).trail_mm < steering.trail_mm
    words = pitch_words(0.70, steering)
    assert "0.7 degrees steeper" in words and "shorter" in words
    assert "flatter" in pitch_words(-0.5) and "as before" in pitch_words(0.01)


def test_a_marker_that_moved_over_one_mm_is_loose() -> None:
    """Set, bounce, roll 100 m on smooth ground; moved over 1 mm is loose [common practice]."""
    for words in ("bounce", "100 m over smooth ground", "more than 1 mm"):
        assert words in MARKER_CHECK

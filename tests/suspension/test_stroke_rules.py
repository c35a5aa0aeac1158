"""Censoring, contradictions, the lock's overhang, what is withheld: rules derived from geometry."""

from __future__ import annotations

import math
from typing import Any

import pytest

from suspension.errors import StrokeError, SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import LockFacing, Marker, MarkerKind
from suspension.stroke.shaft_lengths import ShaftLengths
from tests.helpers.present import present
from tests.helpers.stroke_cases import FORKS, ask, length, value

WHEELS = State.ON_WHEELS


# At the far end


def test_marker_at_the_bumper_is_at_least_sb_less_its_width() -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, e=70.0, d=67.5, gn=2.5, b=20.0, bs=8.0, w=2.5)
    assert answer.at_least and present(answer.used_mm).at_least and present(answer.used_percent).at_least
    assert value(answer.used_mm) == pytest.approx(77.5)
    assert present(answer.reserve_bumper_mm).at_most and value(answer.reserve_bumper_mm) == pytest.approx(2.5)
    assert present(answer.reserve_hard_mm).at_most and value(answer.reserve_hard_mm) == pytest.approx(14.5)


@pytest.mark.parametrize(("gn", "sd", "touches"), [(3.4, 0.1, True), (3.6, 0.1, False), (3.6, 0.5, True)])
def test_gap_counts_as_touching_up_to_1_mm_or_twice_its_doubt(gn: float, sd: float, touches: bool) -> None:
    assert ask(Layout.SHOCK, WHEELS, e0=80.0, gn=gn, w=2.5, sd=sd).at_least is touches


def test_a_touch_that_may_be_a_gap_stays_inside_the_doubt() -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=3.4, w=2.5, sd=0.01)
    assert (
        present(answer.used_mm).value - present(answer.used_mm).u95 < 80.0 - 3.4
    )  # where the marker was seen


def test_marker_inside_the_rubber() -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=1.0, w=2.5)
    assert answer.at_least and value(answer.used_mm) == pytest.approx(77.5)


def test_the_photo_says_at_stop_and_no_width_is_known() -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=4.0, at_stop=True)
    assert answer.at_least and value(answer.used_mm) == pytest.approx(76.0)
    assert any("width is not known" in words for words in answer.remarks)


def test_at_stop_without_extended_length_still_bounds_the_reserve() -> None:
    answer = ask(Layout.SHOCK, WHEELS, gn=2.5, w=2.5)
    assert answer.used_mm is None and answer.at_least
    assert present(answer.reserve_bumper_mm).at_most and value(answer.reserve_bumper_mm) == pytest.approx(2.5)


def test_fork_marker_at_the_clamp() -> None:
    answer = ask(Layout.UPSIDE_DOWN_FORK, WHEELS, e0=205.0, gn=3.6, w=3.6)
    assert answer.at_least and value(answer.used_mm) == pytest.approx(201.4)
    assert any("slipped" in words and "reads high" in words for words in answer.remarks)
    with pytest.raises(StrokeError, match="beyond the stroke"):
        ask(Layout.UPSIDE_DOWN_FORK, WHEELS, e0=205.0, gn=3.6, w=3.6, s=120.0)


# Not moved


def test_marker_not_moved_is_at_most_the_compression_at_reset() -> None:
    answer = ask(Layout.FORK, WHEELS, e0=205.0, gn=174.6, s=120.0, reset_compression_mm=length(30.0))
    assert answer.at_most and value(answer.used_mm) == pytest.approx(30.0)
    assert present(answer.reserve_hard_mm).at_least and value(answer.reserve_hard_mm) == pytest.approx(90.0)


def test_marker_still_at_the_seal() -> None:
    answer = ask(Layout.FORK, WHEELS, e0=205.0, e=175.0, d=0.3, gn=174.7)
    assert answer.at_most and value(answer.used_mm) == pytest.approx(30.3)


def test_moved_from_a_known_reset_is_exact() -> None:
    assert (
        ask(Layout.FORK, WHEELS, e0=205.0, gn=113.0, reset_compression_mm=length(30.0)).bound is Bound.EXACT
    )


def test_marker_above_its_reset_has_slipped() -> None:
    with pytest.raises(StrokeError, match="short of where it was last slid"):
        ask(Layout.FORK, WHEELS, e0=205.0, gn=185.0, reset_compression_mm=length(30.0))


# What contradicts


@pytest.mark.parametrize("layout", FORKS)
def test_used_beyond_stroke_is_refused_with_causes(layout: Layout) -> None:
    with pytest.raises(StrokeError) as caught:
        ask(layout, WHEELS, e0=205.0, e=175.0, d=100.0, gn=75.0, s=120.0)
    assert (
        "slipped" in caught.value.remedy
        and "hanging length" in caught.value.remedy
        and "the stroke is wrong" in caught.value.remedy
    )


def test_used_beyond_stroke_within_doubt_is_answered() -> None:
    # excess 0.3 mm; u95 of u - S with three inputs of sd 0.1 is 2 sqrt(3) 0.1 = 0.346
    assert value(ask(Layout.FORK, WHEELS, e0=205.0, gn=84.7, s=120.0).reserve_hard_mm) == pytest.approx(-0.3)
    with pytest.raises(StrokeError):
        ask(Layout.FORK, WHEELS, e0=205.0, gn=84.6, s=120.0)


def test_shock_beyond_what_its_bumper_allows() -> None:
    with pytest.raises(StrokeError, match="beyond the stroke"):
        ask(Layout.SHOCK, State.HANGING, e=80.0, d=95.0, b=20.0, bs=8.0)


def test_hanging_but_compressed_is_refused() -> None:
    with pytest.raises(StrokeError, match="said to hang"):
        ask(Layout.FORK, State.HANGING, e0=205.0, e=175.0, d=62.0, gn=113.0)


def test_exposed_over_extended_is_refused() -> None:
    with pytest.raises(StrokeError, match="over the extended length"):
        ask(Layout.FORK, WHEELS, e0=205.0, e=210.0, d=62.0, gn=148.0)


def test_marker_behind_the_seal_is_refused() -> None:
    with pytest.raises(StrokeError, match="behind"):
        ask(Layout.FORK, WHEELS, e0=205.0, gn=215.0)


def test_fork_stroke_over_extended_length_is_refused() -> None:
    with pytest.raises(StrokeError, match="longer than the tube"):
        ask(Layout.FORK, WHEELS, e0=205.0, gn=113.0, s=206.0)


@pytest.mark.parametrize(("gap", "refused"), [(1.9, False), (2.1, True), (-2.1, True)])
def test_closure_of_separate_lengths(gap: float, refused: bool) -> None:
    parts = length(175.0), length(62.0), length(113.0 + gap)
    if refused:
        with pytest.raises(StrokeError, match="do not add up"):
            ShaftLengths(*parts)
    else:
        assert ShaftLengths(*parts).closure_mm == pytest.approx(gap)


@pytest.mark.parametrize(("stroke", "words"), [(97.0, "differ by 5.0 mm"), (75.0, "differ by 17.0 mm")])
def test_shock_stroke_against_bumper_withholds_only_what_needs_it(stroke: float, words: str) -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=15.0, b=20.0, bs=8.0, s=stroke)
    assert answer.reserve_hard_mm is None and answer.used_percent is None and answer.hard_stop_mm is None
    assert value(answer.used_mm) == 65 and value(answer.reserve_bumper_mm) == 15
    assert any(words in said for said in answer.withheld)


def test_shock_stroke_that_ends_before_the_bumper_is_withheld() -> None:
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=15.0, s=75.0)
    assert answer.reserve_hard_mm is None and any("before the bumper" in said for said in answer.withheld)


# The lock's overhang


def test_overhang_is_taken_off_used_and_added_to_what_is_left() -> None:
    tie: dict[str, Any] = {"kind": MarkerKind.TIE, "lock": LockFacing.MEETS_SEAL}
    answer = ask(Layout.SHOCK, WHEELS, e0=80.0, gn=15.0, b=20.0, bs=8.0, w=2.5, **tie)
    assert value(answer.used_mm) == pytest.approx(64.1)
    assert value(answer.marker_position_mm) == pytest.approx(65.0)
    assert value(answer.reserve_bumper_mm) == pytest.approx(15.9)
    assert value(answer.reserve_hard_mm) == pytest.approx(27.9)
    assert answer.remarks == ()


@pytest.mark.parametrize("kind", [MarkerKind.TIE, MarkerKind.UNKNOWN])
def test_unknown_lock_is_rectangular_and_said(kind: MarkerKind) -> None:
    marker = Marker(kind, length(3.6))
    assert marker.overhang_mm.value == pytest.approx(0.45)
    # JCGM 100, 4.3.7: half-width a -> a/sqrt(3)
    assert marker.overhang_mm.sigma == pytest.approx(0.45 / math.sqrt(3))
    answer = ask(Layout.FORK, WHEELS, e0=205.0, gn=113.0, w=3.6, kind=kind)
    assert value(answer.used_mm) == pytest.approx(91.55)
    assert present(answer.used_mm).sigma == pytest.approx(math.sqrt(0.1**2 + 0.1**2 + 0.45**2 / 3))
    assert any("lock" in words for words in answer.remarks)
    # both ends of the unknown lie inside the interval
    assert (
        present(answer.used_mm).value - present(answer.used_mm).u95 < 91.1
        and present(answer.used_mm).value + present(answer.used_mm).u95 > 92.0
    )


# What a leg and a length may be


@pytest.mark.parametrize("bad", [(math.nan, 0.1), (math.inf, 0.1), (1.0, -0.1), (1.0, math.nan)])
def test_lengths_must_be_finite(bad: tuple[float, float]) -> None:
    with pytest.raises(SuspensionError):
        Quantity(*bad)


def test_leg_refuses_what_cannot_be() -> None:
    with pytest.raises(SuspensionError, match="more than zero"):
        Leg(Layout.FORK, extended_mm=length(0.0))
    with pytest.raises(SuspensionError, match="bumper is given for a fork"):
        Leg(Layout.FORK, bumper_free_mm=length(20.0))
    with pytest.raises(SuspensionError, match="longer crushed than free"):
        Leg(Layout.SHOCK, bumper_free_mm=length(8.0), bumper_crushed_mm=length(20.0))


def test_nothing_read_is_answered_in_words() -> None:
    answer = ask(Layout.SHOCK, WHEELS)
    assert answer.used_mm is answer.reserve_bumper_mm is answer.reserve_hard_mm is answer.used_percent is None
    assert len(answer.withheld) >= 4 and all(words.endswith(".") for words in answer.withheld)


def test_bounds_turn_over() -> None:
    assert Bound.AT_LEAST.opposite is Bound.AT_MOST and Bound.EXACT.opposite is Bound.EXACT
    assert Quantity(1.0, 0.25).u95 == 0.5

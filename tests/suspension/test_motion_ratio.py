"""Motion ratio and the two coordinates. [H] handbook, [D] derived from geometry."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.travel import Along, Coordinate, percent_of, reserve_at_wheel, to_wheel
from suspension.springs.motion_ratio import MotionRatio, fork_motion_ratio, swingarm_motion_ratio

QUICK = settings(max_examples=60, deadline=None)
RATIOS = st.floats(0.3, 1.3)


@st.composite
def tables(draw: Callable[..., Any]) -> MotionRatio:
    steps = draw(st.lists(st.floats(2, 40), min_size=1, max_size=5))
    strokes = (0.0, *(sum(steps[: i + 1]) for i in range(len(steps))))
    return MotionRatio(strokes, tuple(draw(RATIOS) for _ in strokes))


def test_fork_at_25_degrees() -> None:
    """[H, memory]: stroke 120 -> 108.76 vertical; rates by 1/cos² = 1.2174."""
    ratio = fork_motion_ratio(25)
    assert ratio.wheel_travel_mm(120) == pytest.approx(108.76, abs=0.005)
    assert ratio.at(60) == pytest.approx(1 / math.cos(math.radians(25)))
    assert ratio.at(0) ** 2 == pytest.approx(1.2174, abs=5e-5)


def test_inclined_shock() -> None:
    """[D]: 400 mm, 70 deg, 500 mm, 0 deg -> 0.7518."""
    assert swingarm_motion_ratio(400, 70, 500, 0) == pytest.approx(0.7518, abs=5e-5)


def test_inclined_shock_against_moving_it() -> None:
    """[D] The shock's length between its mounts, differenced over the wheel's height."""
    pivot_to_mount, arm, psi, beta = 400.0, 500.0, math.radians(70), math.radians(8)
    # upper mount placed so that the shock makes psi with the arm when the arm is beta below the horizontal
    along = (math.cos(-beta), math.sin(-beta))
    mount = tuple(pivot_to_mount * x for x in along)
    turn = math.pi - psi - beta
    top = (mount[0] + 300 * math.cos(turn), mount[1] + 300 * math.sin(turn))

    def shock(angle: float) -> float:
        return math.dist((pivot_to_mount * math.cos(angle), pivot_to_mount * math.sin(angle)), top)

    h = 1e-5
    compressed = shock(-beta - h) - shock(-beta + h)
    raised = arm * (math.sin(-beta + h) - math.sin(-beta - h))
    assert swingarm_motion_ratio(400, 70, 500, 8) == pytest.approx(compressed / raised, rel=1e-6)


@QUICK
@given(tables(), st.floats(0.01, 1))
def test_wheel_travel_is_the_integral_of_dc_over_ratio(ratio: MotionRatio, share: float) -> None:
    """[D] Against scipy's adaptive quadrature."""
    end = share * ratio.strokes_mm[-1]
    inside = [c for c in ratio.strokes_mm if 0 < c < end] or None
    integral, _ = quad(lambda c: 1 / ratio.at(c), 0, end, points=inside)
    assert ratio.wheel_travel_mm(end) == pytest.approx(integral, rel=1e-7, abs=1e-9)


@QUICK
@given(tables(), st.floats(0, 1))
def test_stroke_and_wheel_travel_are_inverse(ratio: MotionRatio, share: float) -> None:
    stroke = share * ratio.strokes_mm[-1]
    assert ratio.stroke_mm(ratio.wheel_travel_mm(stroke)) == pytest.approx(stroke, abs=1e-7)


@QUICK
@given(tables(), st.floats(0, 1), st.floats(0, 1))
def test_wheel_travel_rises_with_stroke(ratio: MotionRatio, one: float, other: float) -> None:
    low, high = sorted(x * ratio.strokes_mm[-1] for x in (one, other))
    assert ratio.wheel_travel_mm(low) <= ratio.wheel_travel_mm(high) + 1e-12


def test_a_constant_ratio_has_no_slope() -> None:
    assert MotionRatio.constant(0.4).is_constant and MotionRatio.constant(0.4).slope_per_mm(5) == 0


def test_slope_between_points() -> None:
    ratio = MotionRatio((0, 20, 50), (0.4, 0.5, 0.44))
    assert ratio.slope_per_mm(10) == pytest.approx(0.005)
    assert ratio.slope_per_mm(20) == pytest.approx(-0.002)
    assert ratio.at(35) == pytest.approx(0.47) and ratio.at(50) == pytest.approx(0.44)


@pytest.mark.parametrize(
    ("strokes", "ratios"),
    [
        ((), ()),
        ((0, 10), (0.5,)),
        ((5, 10), (0.5, 0.5)),
        ((0, 10, 10), (0.5, 0.5, 0.5)),
        ((0,), (0,)),
        ((0,), (math.nan,)),
    ],
)
def test_tables_that_are_none(strokes: tuple[int, ...], ratios: tuple[float, ...]) -> None:
    with pytest.raises(SuspensionError):
        MotionRatio(strokes, ratios)


def test_nothing_is_made_up_beyond_the_table() -> None:
    ratio = MotionRatio((0, 50), (0.4, 0.5))
    for asked in (ratio.at, ratio.wheel_travel_mm):
        with pytest.raises(SuspensionError, match="runs from 0 to 50"):
            asked(51)
    with pytest.raises(SuspensionError):
        ratio.stroke_mm(ratio.wheel_travel_mm(50) + 1)
    with pytest.raises(SuspensionError):
        ratio.at(-1)


@pytest.mark.parametrize("rake", [14.9, 40.1, 65])
def test_rake_from_the_horizontal_is_refused(rake: float) -> None:
    with pytest.raises(SuspensionError) as caught:
        fork_motion_ratio(rake)
    assert "from the vertical" in caught.value.remedy


@pytest.mark.parametrize("bad", [(0, 70, 500, 0), (400, 0, 500, 0), (400, 180, 500, 0), (400, 70, 500, 90)])
def test_no_swingarm(bad: tuple[int, ...]) -> None:
    with pytest.raises(SuspensionError):
        swingarm_motion_ratio(*bad)


# Coordinates


def test_percent_never_mixes_stroke_and_wheel() -> None:
    stroke = Along(Quantity(40, 0.5), Coordinate.STROKE)
    wheel = Along(Quantity(120, 1), Coordinate.WHEEL)
    with pytest.raises(SuspensionError, match="no percentage"):
        percent_of(stroke, wheel)
    assert percent_of(stroke, None) is None


def test_percent_and_its_doubt() -> None:
    """JCGM 100, 5.1.2: relative variances of a ratio add."""
    share = percent_of(
        Along(Quantity(30, 0.6), Coordinate.WHEEL), Along(Quantity(120, 1.2), Coordinate.WHEEL)
    )
    assert share is not None and share.value == pytest.approx(25)
    assert share.sigma == pytest.approx(25 * math.hypot(0.6 / 30, 1.2 / 120))


def test_without_a_ratio_a_stroke_remains_a_stroke() -> None:
    assert to_wheel(Quantity(40, 0.5), None).coordinate is Coordinate.STROKE


@QUICK
@given(RATIOS, st.floats(1, 100), st.floats(0.1, 2))
def test_there_and_back(ratio: float, stroke: float, sd: float) -> None:
    table = MotionRatio.constant(ratio)
    wheel = to_wheel(Quantity(stroke, sd, Bound.AT_LEAST), table)
    assert wheel.mm.value == pytest.approx(stroke / ratio) and wheel.mm.sigma == pytest.approx(sd / ratio)
    assert table.stroke_mm(wheel.mm.value) == pytest.approx(stroke) and wheel.mm.at_least


@QUICK
@given(tables(), st.floats(0, 1))
def test_used_and_reserve_make_the_wheel_travel(ratio: MotionRatio, share: float) -> None:
    stop = ratio.strokes_mm[-1]
    left = reserve_at_wheel(Quantity(share * stop, 0.3), Quantity(stop, 0.4), ratio)
    used = to_wheel(Quantity(share * stop, 0.3), ratio)
    assert left.mm.value + used.mm.value == pytest.approx(ratio.wheel_travel_mm(stop))
    assert reserve_at_wheel(Quantity(1, 0.1, Bound.AT_LEAST), Quantity(stop, 0.1), ratio).mm.at_most

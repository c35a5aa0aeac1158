"""Forces and rates at the wheel, where a bike rests, how it bounces. [H] handbook, [D] derived."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.loads.loads import GRAVITY_M_PER_S2, mass_kg, weight_n
from suspension.springs.air import AirChamber
from suspension.springs.equilibrium import rest_under
from suspension.springs.frequency import ride_frequency_hz
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio, fork_motion_ratio
from suspension.springs.springs import DualRateSpring, ForceTable, LinearSpring
from suspension.springs.wheel_rate import EndForces, wheel_force_n, wheel_rate_n_per_mm

QUICK = settings(max_examples=40, deadline=None)


def twin(
    preload: float = 10.0, rate: float = 20.0, ratio: float = 0.8, stroke: int | None = None
) -> EndForces:
    leg = LegForces(LinearSpring(rate), preload)
    return EndForces((leg, leg), MotionRatio.constant(ratio), stroke)


@pytest.mark.parametrize(("preload", "stroke", "wheel"), [(10, 36.875, 46.094), (12, 34.875, 43.594)])
def test_static_check_values(preload: int, stroke: float, wheel: float) -> None:
    """[H/D] Ws 1500, two springs 20 N/mm, MR 0.8: d 10 -> c 36.875, wheel 46.094; d 12 -> 34.875, 43.594."""
    rest = rest_under(twin(preload), 1500)
    assert rest.stroke_mm == pytest.approx(stroke) and rest.wheel_mm == pytest.approx(wheel, abs=5e-4)


def test_wheel_rate_check_value() -> None:
    """[H/D] kw 25.6; the motion ratio counts squared, and preload not at all."""
    assert wheel_rate_n_per_mm(twin(), 30) == pytest.approx(25.6)
    assert wheel_rate_n_per_mm(twin(preload=25), 30) == pytest.approx(25.6)


def test_fork_vertical_rate() -> None:
    """[H, memory] k/cos²: two 9 N/mm at a rake of 25 deg -> 18 x 1.2174."""
    leg = LegForces(LinearSpring(9))
    end = EndForces((leg, leg), fork_motion_ratio(25))
    assert wheel_rate_n_per_mm(end, 50) == pytest.approx(18 * 1.2174, abs=1e-3)


def test_a_spring_in_one_leg_only() -> None:
    end = EndForces((LegForces(LinearSpring(18), 5), LegForces()), MotionRatio.constant(1.0))
    assert wheel_force_n(end, 10) == pytest.approx(270)


def full_end(preload: float, r0: float, r1: float, exponent: float = 1.0) -> EndForces:
    """All there is: dual rate, air, a bumper from 80 mm, and a ratio that changes."""
    leg = LegForces(
        DualRateSpring(12, 60, 35),
        preload,
        AirChamber(41, 300_000),
        ForceTable((0, 10, 20), (0, 300, 1500)),
        80,
        exponent,
    )
    return EndForces((leg, leg), MotionRatio((0, 50, 100), (r0, (r0 + r1) / 2, r1)), 100)


@QUICK
@given(
    st.floats(0, 20), st.floats(0.5, 1), st.floats(0.5, 1), st.sampled_from([12.0, 33.0, 61.0, 84.0, 95.0])
)
def test_wheel_rate_is_the_slope_of_the_wheel_force(
    preload: float, r0: float, r1: float, stroke: float
) -> None:
    """[D] kw = sum k MR² + F dMR/dz against differences of force over wheel travel."""
    end, h = full_end(preload, r0, r1), 1e-5
    rise = wheel_force_n(end, stroke + h) - wheel_force_n(end, stroke - h)
    run = end.ratio.wheel_travel_mm(stroke + h) - end.ratio.wheel_travel_mm(stroke - h)
    spring = end.legs[0].spring
    assert isinstance(spring, DualRateSpring)
    if abs(preload + stroke - spring.changes_mm) > 1e-3:
        assert wheel_rate_n_per_mm(end, stroke) == pytest.approx(rise / run, rel=1e-4)


@QUICK
@given(st.floats(0, 15), st.floats(0.6, 0.8), st.floats(0, 0.2), st.floats(0, 95))
def test_balance_closes(preload: float, r0: float, rise: float, stroke: float) -> None:
    """The load that a stroke carries brings it back to that stroke."""
    end = full_end(preload, r0, r0 + rise)
    rest = rest_under(end, wheel_force_n(end, stroke))
    assert rest.stroke_mm == pytest.approx(stroke, abs=1e-6)


@QUICK
@given(st.floats(0, 15), st.floats(500, 4000), st.floats(1, 500))
def test_more_load_sinks_deeper_and_more_preload_less(preload: float, load: float, more: float) -> None:
    end = full_end(preload, 0.7, 0.8)
    assert rest_under(end, load + more).stroke_mm >= rest_under(end, load).stroke_mm
    assert rest_under(end.with_preload(preload + 1), load).stroke_mm <= rest_under(end, load).stroke_mm


@QUICK
@given(st.floats(200, 3000), st.floats(8, 30), st.floats(0.5, 1.2), st.floats(0, 20))
def test_solver_agrees_with_the_closed_form(load: float, rate: float, ratio: float, preload: float) -> None:
    rest = rest_under(twin(preload, rate, ratio, stroke=390), load)
    closed = max(0.0, load / (2 * rate * ratio) - preload)  # [H] c = max(0, Ws/(n k MR) - d)
    assert rest.stroke_mm == pytest.approx(min(closed, 390), abs=1e-6)


def test_ends_of_the_stroke() -> None:
    topped = rest_under(twin(preload=60), 1500)
    assert topped.topped_out and topped.stroke_mm == 0
    stopped = rest_under(twin(stroke=90), 10_000)
    assert stopped.at_stop and stopped.stroke_mm == 90 and stopped.wheel_mm == pytest.approx(112.5)


def test_what_is_not_known_is_not_made_up() -> None:
    with pytest.raises(SuspensionError, match="any stroke that a bike has"):
        rest_under(twin(), 1e6)
    leg = LegForces(ForceTable((0, 60), (0, 1200)), 10)
    with pytest.raises(SuspensionError, match=r"beyond 50.0 mm"):
        rest_under(EndForces((leg, leg), MotionRatio.constant(0.8), 90), 3000)
    with pytest.raises(SuspensionError, match="negative"):
        rest_under(twin(), -1)


def test_a_wheel_force_that_falls_is_refused() -> None:
    leg = LegForces(LinearSpring(10), 40)
    end = EndForces((leg,), MotionRatio((0, 30, 60), (1.0, 0.2, 1.5)), 60)
    with pytest.raises(SuspensionError, match="does not rise"):
        rest_under(end, 900)


def test_air_alone_has_a_balance_without_a_stroke() -> None:
    end = EndForces((LegForces(air=AirChamber(41, 200_000)),), MotionRatio.constant(1.0))
    rest = rest_under(end, 900)
    assert wheel_force_n(end, rest.stroke_mm) == pytest.approx(900)


def test_legs_that_are_none() -> None:
    with pytest.raises(SuspensionError, match="loose"):
        LegForces(LinearSpring(10), -1)
    with pytest.raises(SuspensionError, match="bumper"):
        LegForces(bumper=ForceTable((0, 10), (0, 500)))
    with pytest.raises(SuspensionError):
        EndForces((), MotionRatio.constant(1))
    with pytest.raises(SuspensionError):
        EndForces((LegForces(),), MotionRatio.constant(1), 0)


def test_ride_frequency() -> None:
    """[H] f = 15.761/sqrt(Ws/kw): 1500/25.6 = 58.594 mm -> 2.059 Hz; inside 1.5 to 3 [C]."""
    assert ride_frequency_hz(1500, 1500) == pytest.approx(15.761, abs=5e-4)
    assert ride_frequency_hz(1500, 25.6) == pytest.approx(15.761 / math.sqrt(1500 / 25.6), rel=1e-4)
    for bad in ((0, 10), (10, 0)):
        with pytest.raises(SuspensionError):
            ride_frequency_hz(*bad)


def test_standard_gravity() -> None:
    """[S] NIST SP 811 (2008), B.8: 1 kgf = 9.80665 N."""
    assert GRAVITY_M_PER_S2 == 9.80665 and weight_n(1) == 9.80665
    assert mass_kg(weight_n(73.5)) == pytest.approx(73.5)

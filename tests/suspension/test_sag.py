"""Sag and its windows. All windows and rules [C], common practice with no source; geometry [D]."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.sag import (
    SagScale,
    TwoApproaches,
    friction_n,
    sag_from_exposed,
    sag_from_lengths,
    sag_hint,
)
from suspension.sag.travel import Coordinate
from suspension.sag.windows import End, Judgement, Use, WhichSag, Window, judge_sag, sag_window, spring_hint
from suspension.springs.motion_ratio import MotionRatio
from tests.helpers.present import present

QUICK = settings(max_examples=60, deadline=None)


def mm(value: float, sd: float = 0.5) -> Quantity:
    return Quantity(value, sd)


def both(risen: float, settled: float, sd: float = 0.5) -> TwoApproaches:
    return TwoApproaches(mm(risen, sd), mm(settled, sd))


STREET_REAR = SagScale(sag_window(Use.STREET, End.REAR, WhichSag.RIDER), mm(120, 1), wheel_rate_n_per_mm=25.6)


def test_sag_from_axle_to_tail() -> None:
    """[C] L0 - mean(La, Lb), percent of wheel travel, friction kw |La - Lb|/2: L0 600, 562/568, travel 120."""
    sag = sag_from_lengths(WhichSag.RIDER, mm(600), both(562, 568), STREET_REAR)
    assert sag.length.mm.value == pytest.approx(35) and sag.length.coordinate is Coordinate.WHEEL
    assert sag.length.mm.sigma == pytest.approx(math.hypot(0.5, 0.5 / math.sqrt(2)))
    assert present(sag.percent).value == pytest.approx(100 * 35 / 120)
    assert sag.stiction_mm == 6 and sag.friction_n == pytest.approx(25.6 * 3)
    assert sag.judgement is Judgement.INSIDE and sag.remarks == ()


def test_friction_by_a_mass_on_a_rubbing_spring() -> None:
    """[D] Rising it stops where kw x = W + F, settling where kw x = W - F: 2F/kw apart."""
    kw, weight, rub = 25.6, 1500.0, 60.0
    apart = (weight + rub) / kw - (weight - rub) / kw
    assert friction_n(kw, apart) == pytest.approx(rub)


@QUICK
@given(st.floats(400, 600), st.floats(0, 60), st.floats(-5, 5))
def test_two_approaches_cancel_friction(extended: float, true_sag: float, rub: float) -> None:
    loaded = both(extended - true_sag - rub, extended - true_sag + rub)
    sag = sag_from_lengths(WhichSag.RIDER, mm(extended), loaded, SagScale())
    assert sag.length.mm.value == pytest.approx(true_sag, abs=1e-9)
    assert sag.stiction_mm == pytest.approx(2 * abs(rub), abs=1e-9)


def test_one_approach_says_so() -> None:
    sag = sag_from_lengths(WhichSag.RIDER, mm(600), TwoApproaches(mm(565)), STREET_REAR)
    assert sag.stiction_mm is None and sag.friction_n is None and "from one side only" in sag.remarks[0]


def test_much_stiction_is_said() -> None:
    sag = sag_from_lengths(WhichSag.RIDER, mm(600), both(559, 571), STREET_REAR)
    assert "binding" in sag.remarks[0]


def test_sag_from_a_shock_goes_through_the_motion_ratio() -> None:
    """[D] c = E0 - E; wheel c/MR: 28 mm at 0.8 -> 35 mm."""
    scale = SagScale(
        STREET_REAR.window, mm(120, 1), ratio=MotionRatio.constant(0.8), wheel_rate_n_per_mm=25.6
    )
    sag = sag_from_exposed(WhichSag.RIDER, mm(80), both(50, 54), scale)
    assert sag.length.mm.value == pytest.approx(35) and sag.length.coordinate is Coordinate.WHEEL
    assert sag.stiction_mm == pytest.approx(5) and sag.friction_n == pytest.approx(25.6 * 2.5)
    assert present(sag.percent).value == pytest.approx(100 * 35 / 120) and sag.judgement is Judgement.INSIDE


def test_without_a_motion_ratio_stroke_only_and_no_window() -> None:
    """Missing: MR -> stroke only."""
    sag = sag_from_exposed(
        WhichSag.RIDER, mm(80), both(50, 54), SagScale(STREET_REAR.window, mm(120), mm(100))
    )
    assert sag.length.coordinate is Coordinate.STROKE and present(sag.percent).value == pytest.approx(28)
    assert sag.judgement is Judgement.UNKNOWN and "do not apply" in sag.remarks[-1]
    assert sag.friction_n is None


def test_without_travel_no_percentage() -> None:
    sag = sag_from_lengths(WhichSag.RIDER, mm(600), both(562, 568), SagScale(STREET_REAR.window))
    assert sag.percent is None and sag.judgement is Judgement.UNKNOWN
    assert "No percentage: the wheel's travel" in sag.remarks[0]


def test_travel_from_stroke_and_ratio_is_the_same_travel() -> None:
    ratio = MotionRatio((0, 50, 100), (0.7, 0.8, 0.85))
    scale = SagScale(STREET_REAR.window, stroke_mm=mm(100, 0.3), ratio=ratio)
    sag = sag_from_lengths(WhichSag.RIDER, mm(600), both(562, 568), scale)
    assert present(sag.percent).value == pytest.approx(100 * 35 / ratio.wheel_travel_mm(100))


def test_longer_loaded_than_hanging_is_refused() -> None:
    with pytest.raises(SuspensionError, match="higher loaded"):
        sag_from_lengths(WhichSag.STATIC, mm(600), both(603, 603), SagScale())
    with pytest.raises(SuspensionError, match="higher loaded"):
        sag_from_exposed(WhichSag.STATIC, mm(80), both(83, 83), SagScale())
    topped = sag_from_exposed(
        WhichSag.STATIC, mm(80), both(80.5, 80.5), SagScale(ratio=MotionRatio((0, 50), (0.7, 0.8)))
    )
    assert topped.length.mm.value == 0


# Windows

TABLE = """
street    15-22 25-35  5-12 25-35
sport     12-20 20-30  4-10 20-30
off-road   8-15 20-27  8-14 30-35
"""


def test_windows_are_the_trades() -> None:
    """[C] Percent of wheel travel: front static, front rider, rear static, rear rider."""
    for row in TABLE.split("\n")[1:-1]:
        use, *cells = row.split()
        order = [(end, which) for end in End for which in WhichSag]
        for (end, which), cell in zip(order, cells, strict=True):
            low, high = map(float, cell.split("-"))
            assert sag_window(Use(use), end, which) == Window(low, high)


def test_windows_can_be_the_owners() -> None:
    own = {(Use.STREET, End.REAR, WhichSag.RIDER): Window(28, 32)}
    assert sag_window(Use.STREET, End.REAR, WhichSag.RIDER, own) == Window(28, 32)
    assert sag_window(Use.STREET, End.REAR, WhichSag.STATIC, own) == Window(5, 12)
    assert sag_window(None, End.REAR, WhichSag.STATIC) is None
    with pytest.raises(SuspensionError):
        Window(35, 25)


@pytest.mark.parametrize(
    ("percent", "judged"),
    [
        (22.9, Judgement.UNDER),
        (23.1, Judgement.BETWEEN),
        (26.9, Judgement.BETWEEN),
        (27.1, Judgement.INSIDE),
        (32.9, Judgement.INSIDE),
        (33.1, Judgement.BETWEEN),
        (36.9, Judgement.BETWEEN),
        (37.1, Judgement.OVER),
    ],
)
def test_sag_is_judged_on_its_interval(percent: float, judged: Judgement) -> None:
    assert judge_sag(Quantity(percent, 1.0), Window(25, 35)) is judged


def test_what_static_sag_says_of_the_spring() -> None:
    """[C] Rider sag right but static near zero: too soft. Static large: too stiff."""
    window = Window(5, 12)
    assert "too soft" in present(spring_hint(Quantity(1, 0.5), window, Judgement.INSIDE))
    assert "too stiff" in present(spring_hint(Quantity(15, 0.5), window, Judgement.INSIDE))
    assert spring_hint(Quantity(8, 0.5), window, Judgement.INSIDE) is None
    assert spring_hint(Quantity(3.5, 0.5), window, Judgement.INSIDE) is None  # under, but not near zero
    assert spring_hint(Quantity(1, 0.5), window, Judgement.OVER) is None
    assert spring_hint(None, window, Judgement.INSIDE) is None


def test_hint_from_both_sags() -> None:
    static_scale = SagScale(Window(5, 12), mm(120, 1))
    static = sag_from_lengths(WhichSag.STATIC, mm(600), both(599, 600), static_scale)
    rider = sag_from_lengths(WhichSag.RIDER, mm(600), both(562, 568), STREET_REAR)
    assert "too soft" in present(sag_hint(static, static_scale, rider))
    stroke = sag_from_exposed(WhichSag.STATIC, mm(80), both(79, 80), static_scale)
    assert sag_hint(stroke, static_scale, rider) is None

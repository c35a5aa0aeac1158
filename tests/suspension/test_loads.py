"""Axle loads and their limits. [H] handbook; uncertainty by JCGM 100, 5.1.2."""

from __future__ import annotations

import math

import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.loads.limits import LoadVerdict, Plate, check_loads, worst
from suspension.loads.loads import (
    GRAVITY_M_PER_S2,
    AxleLoads,
    LoadSource,
    PointMass,
    add_to,
    best_loads,
    loads_by_moments,
    loads_by_scales,
    sprung_load_n,
)
from suspension.quantities.quantity import Quantity
from tests.helpers.present import present

QUICK = settings(max_examples=60, deadline=None)


def mass(name: str, kg: float, x: float, sd_kg: float = 0.0, sd_x: float = 0.0) -> PointMass:
    return PointMass(name, Quantity(kg, sd_kg), Quantity(x, sd_x))


BIKE, RIDER = mass("bike", 250, 700), mass("rider", 80, 1000)


def test_college_exercise() -> None:
    """[H] Bike 250 kg at the middle of L 1.4 m, rider 80 kg at 1.0 m, g 9.8 -> 1225/1225 N alone, 1449/1785 N."""
    alone = loads_by_moments((BIKE,), 1400, gravity_m_per_s2=9.8)
    assert (alone.front_n.value, alone.rear_n.value) == pytest.approx((1225, 1225))
    both = loads_by_moments((BIKE, RIDER), 1400, gravity_m_per_s2=9.8)
    assert (both.front_n.value, both.rear_n.value) == pytest.approx((1449, 1785))
    assert both.total_n.value == pytest.approx(330 * 9.8)


@QUICK
@given(
    st.lists(
        st.tuples(st.floats(1, 100), st.floats(300, 1300), st.floats(0.1, 3), st.floats(1, 50)),
        min_size=1,
        max_size=4,
    )
)
def test_moments_against_uncertainties(rows: list[tuple[float, ...]]) -> None:
    """Against the general library `uncertainties`; front and rear add to the total."""
    masses = tuple(mass(str(i), kg, x, sd_kg, sd_x) for i, (kg, x, sd_kg, sd_x) in enumerate(rows))
    loads = loads_by_moments(masses, 1400)
    weights = [uncertainties.ufloat(kg, sd) * GRAVITY_M_PER_S2 for kg, _, sd, _ in rows]
    places = [uncertainties.ufloat(x, sd) for _, x, _, sd in rows]
    rear = sum(w * x / 1400 for w, x in zip(weights, places, strict=True))
    for mine, theirs in (
        (loads.rear_n, rear),
        (loads.front_n, sum(weights) - rear),
        (loads.total_n, sum(weights)),
    ):
        assert mine.value == pytest.approx(theirs.nominal_value) and mine.sigma == pytest.approx(
            theirs.std_dev
        )
    assert loads.front_n.value + loads.rear_n.value == pytest.approx(loads.total_n.value)


@QUICK
@given(st.floats(1, 60), st.floats(-300, 1900), st.floats(1, 200))
def test_what_sits_further_back_loads_the_rear_more(kg: float, x: float, further: float) -> None:
    def rear(place: float) -> float:
        return loads_by_moments((BIKE, mass("case", kg, place)), 1400).rear_n.value

    assert rear(x + further) > rear(x)


def test_behind_the_rear_axle_unloads_the_front() -> None:
    loads = loads_by_moments((BIKE, mass("top case", 20, 1600)), 1400)
    alone = loads_by_moments((BIKE,), 1400)
    assert loads.front_n.value < alone.front_n.value and "top case" in loads.remarks[0]
    assert not loads_by_moments((BIKE, RIDER), 1400).remarks


def test_a_wheel_that_lifts_is_refused() -> None:
    with pytest.raises(SuspensionError, match="front wheel would lift"):
        loads_by_moments((mass("bike", 100, 700), mass("load", 100, 2100)), 1400)
    with pytest.raises(SuspensionError, match="rear wheel would lift"):
        loads_by_moments((mass("bike", 100, 0),), 1400)


@pytest.mark.parametrize(("masses", "wheelbase"), [((), 1400), ((BIKE,), 0), ((BIKE,), math.nan)])
def test_moments_need_masses_and_a_wheelbase(masses: tuple[PointMass, ...], wheelbase: float) -> None:
    with pytest.raises(SuspensionError):
        loads_by_moments(masses, wheelbase)
    with pytest.raises(SuspensionError):
        mass("x", -1, 700)


def test_scales_are_kilograms_and_loads_newtons() -> None:
    """[S] 1 kgf = 9.80665 N, NIST SP 811."""
    loads = loads_by_scales(Quantity(120, 0.5), Quantity(130, 0.5))
    assert loads.front_n.value == pytest.approx(120 * 9.80665) and loads.front_n.sigma == pytest.approx(
        0.5 * 9.80665
    )
    assert loads.total_n.value == pytest.approx(250 * 9.80665)
    with pytest.raises(SuspensionError):
        loads_by_scales(Quantity(0, 0.5), Quantity(130, 0.5))


def test_scales_override_the_estimate_and_a_difference_is_said() -> None:
    scales = loads_by_scales(Quantity(120, 0.5), Quantity(130, 0.5))
    estimate = loads_by_moments((mass("bike", 250, 780, 1, 5),), 1400)
    best = best_loads(scales, estimate)
    assert best is not None and best.source is LoadSource.SCALES and best.rear_n == scales.rear_n
    assert any("front scales show" in words and "more" in words for words in best.remarks)
    assert best_loads(None, estimate) is estimate and best_loads(scales, None) is scales
    assert best_loads(None, None) is None


def test_rider_on_a_weighed_bike() -> None:
    weighed = loads_by_scales(Quantity(125, 0.5), Quantity(125, 0.5))
    both = add_to(weighed, (RIDER,), 1400)
    by_moments = loads_by_moments((BIKE, RIDER), 1400)
    assert both.rear_n.value == pytest.approx(by_moments.rear_n.value)
    assert both.source is LoadSource.SCALES_AND_MOMENTS and add_to(weighed, (), 1400) is weighed


def test_sprung_load() -> None:
    """[H] Ws is the wheel load less the unsprung weight; without it there is none."""
    sprung = sprung_load_n(Quantity(1500, 3), Quantity(15, 1))
    assert sprung is not None and sprung.value == pytest.approx(1500 - 15 * 9.80665)
    assert sprung.sigma == pytest.approx(math.hypot(3, 9.80665))
    assert sprung_load_n(Quantity(1500, 3), None) is None
    with pytest.raises(SuspensionError):
        sprung_load_n(Quantity(100, 3), Quantity(15, 1))


# Limits


def kg(front: int, rear: float, sd: float = 1.0) -> AxleLoads:
    return loads_by_scales(Quantity(front, sd), Quantity(rear, sd))


def test_total_and_each_axle_are_checked() -> None:
    total, front, rear = check_loads(kg(150, 240), Plate(420, 170, 230))
    assert (total.verdict, front.verdict) == (LoadVerdict.WITHIN, LoadVerdict.WITHIN)
    assert rear.verdict is LoadVerdict.OVER and "no preload makes up" in rear.words
    assert present(rear.load_kg).value == pytest.approx(240)
    assert worst((total, front, rear)) is LoadVerdict.OVER


@pytest.mark.parametrize(
    ("rear", "verdict"),
    [
        (227.9, LoadVerdict.WITHIN),
        (228.1, LoadVerdict.BETWEEN),
        (231.9, LoadVerdict.BETWEEN),
        (232.1, LoadVerdict.OVER),
    ],
)
def test_limits_are_judged_on_the_interval(rear: float, verdict: LoadVerdict) -> None:
    assert check_loads(kg(150, rear), Plate(rear_kg=230))[2].verdict is verdict


def test_without_ratings_it_is_not_checked_and_never_ok() -> None:
    checks = check_loads(kg(150, 200), Plate(rear_kg=230))
    assert [check.verdict for check in checks] == [
        LoadVerdict.NOT_CHECKED,
        LoadVerdict.NOT_CHECKED,
        LoadVerdict.WITHIN,
    ]
    assert "load not checked" in checks[0].words and worst(checks) is LoadVerdict.NOT_CHECKED
    assert all(c.verdict is LoadVerdict.NOT_CHECKED for c in check_loads(None, Plate(420, 170, 230)))
    assert not any("OK" in check.words for check in checks)
    assert worst(()) is LoadVerdict.NOT_CHECKED

"""Springs, air and preload. [H] handbook, [D] derived, [S] standard, [C] common practice with no source."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from suspension.errors import SuspensionError
from suspension.quantities.lengths import parse_length
from suspension.springs.air import FAST, SLOW, AirChamber
from suspension.springs.springs import (
    DualRateSpring,
    ForceTable,
    LinearSpring,
    coil_rate,
    mean_diameter_mm,
    series_rate,
)

QUICK = settings(max_examples=60, deadline=None)
RATES = st.floats(1, 200)
# [S] NIST SP 811 (2008), B.8
INCH_MM, LBF_N, PSI_KPA, LBF_PER_IN = 25.4, 4.448222, 6.894757, 0.1751268


def test_nist_factors_fit_together_and_the_inch_is_read_so() -> None:
    assert math.isclose(LBF_N / INCH_MM, LBF_PER_IN, rel_tol=1e-6)
    assert math.isclose(LBF_N / INCH_MM**2 * 1000, PSI_KPA, rel_tol=1e-6)
    assert parse_length("1 in", name="wire").value == INCH_MM


def test_shigley_example_10_1() -> None:
    """[H, memory] Shigley, 10th ed., example 10-1: d 0.037 in, D 0.400 in, Na 10.5, G 11.85 Mpsi -> 4.13 lbf/in;
    6.46 lbf gives 1.56 in.
    """
    shear = 11.85e6 * PSI_KPA * 1e-3  # N/mm²
    coil = coil_rate(shear, 0.037 * INCH_MM, 0.400 * INCH_MM, 10.5)
    assert coil.rate / LBF_PER_IN == pytest.approx(4.13, abs=0.005)
    assert 6.46 * LBF_N / coil.rate / INCH_MM == pytest.approx(1.56, abs=0.005)
    assert coil.index == pytest.approx(10.8, abs=0.05) and coil.remarks == ()


@QUICK
@given(st.floats(3, 8), st.floats(4.5, 11), st.floats(3, 15), st.floats(1.01, 1.5))
def test_rate_goes_by_the_wire_to_the_fourth_and_the_coil_to_the_third(
    wire: float, index: float, coils: float, factor: float
) -> None:
    """[H] k = G d⁴/(8 D³ Na)."""
    rate = coil_rate(78500, wire, index * wire, coils).rate
    assert coil_rate(78500, wire * factor, index * wire * factor, coils).rate == pytest.approx(rate * factor)
    assert coil_rate(78500, wire, index * wire, coils * factor).rate == pytest.approx(rate / factor)
    assert coil_rate(78500, wire, index * wire * factor, coils).rate == pytest.approx(rate / factor**3)


def test_coils_outside_the_formula_are_said() -> None:
    """[H] Index 4 to 12, Na >= 3."""
    assert "outside diameter" in coil_rate(78500, 1, 12.1, 5).remarks[0]
    assert coil_rate(78500, 1, 3.9, 5).remarks and not coil_rate(78500, 1, 4, 3).remarks
    assert "active coils" in coil_rate(78500, 1, 8, 2.9).remarks[0]


def test_mean_diameter_is_not_the_outside() -> None:
    assert mean_diameter_mm(36, 4) == 32
    for bad in ((8, 4), (36, 0)):
        with pytest.raises(SuspensionError):
            mean_diameter_mm(*bad)


@pytest.mark.parametrize(
    "bad", [(0, 4, 30, 5), (78500, 0, 30, 5), (78500, 4, 4, 5), (78500, 4, 30, math.nan)]
)
def test_no_coil(bad: tuple[float, ...]) -> None:
    with pytest.raises(SuspensionError):
        coil_rate(*bad)


def test_series() -> None:
    """[H]"""
    assert series_rate(10, 40) == pytest.approx(8)
    with pytest.raises(SuspensionError):
        series_rate(10, -1)


@QUICK
@given(st.lists(RATES, min_size=2, max_size=4))
def test_series_is_softer_than_any(rates: list[float]) -> None:
    assert series_rate(*rates) < min(rates)


# Springs over their compression


def test_dual_rate_is_series_until_the_soft_one_binds() -> None:
    """[H] Soft 10, hard 40, soft binds at 30 mm: at 300 N the hard one is in 7.5 mm, so at 37.5 mm together."""
    spring = DualRateSpring(10, 40, 30)
    assert spring.changes_mm == pytest.approx(37.5)
    assert spring.force_n(37.5) == pytest.approx(300)
    assert spring.force_n(47.5) == pytest.approx(700)
    assert spring.rate_n_per_mm(37.4) == pytest.approx(8) and spring.rate_n_per_mm(37.5) == 40
    assert spring.force_n(-1) == 0 and spring.rate_n_per_mm(-1) == 0


@QUICK
@given(RATES, st.floats(1.05, 5), st.floats(5, 60), st.floats(0, 120))
def test_dual_rate_against_the_balance_of_its_parts(
    soft: float, stiffer: float, binds: float, compression: float
) -> None:
    """[D] Find the soft spring's share so that both parts carry one force."""
    spring = DualRateSpring(soft, soft * stiffer, binds)
    hard = soft * stiffer
    if compression * hard / (soft + hard) < binds:
        share = brentq(lambda x: soft * x - hard * (compression - x), 0, max(compression, 1e-9))
        expected = soft * share
    else:
        expected = hard * (compression - binds)
    assert spring.force_n(compression) == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_progressive_table() -> None:
    spring = ForceTable((0, 20, 50), (0, 160, 550))
    assert spring.force_n(10) == 80 and spring.force_n(35) == pytest.approx(355)
    assert spring.rate_n_per_mm(19) == 8 and spring.rate_n_per_mm(20) == 13
    assert spring.force_n(-1) == 0 and spring.rate_n_per_mm(-0.1) == 0
    with pytest.raises(SuspensionError, match="ends at 50"):
        spring.force_n(51)


@pytest.mark.parametrize(
    ("x", "f"),
    [
        ((0,), (0,)),
        ((0, 10), (0,)),
        ((0, 10, 20), (0, 50, 50)),
        ((1, 10), (0, 50)),
        ((0, 10), (5, 50)),
        ((0, math.nan), (0, 50)),
    ],
)
def test_tables_that_do_not_rise(x: tuple[float, ...], f: tuple[int, ...]) -> None:
    with pytest.raises(SuspensionError):
        ForceTable(x, f)


def test_springs_that_are_none() -> None:
    for make in (
        lambda: LinearSpring(0),
        lambda: DualRateSpring(40, 10, 20),
        lambda: DualRateSpring(10, 40, 0),
    ):
        with pytest.raises(SuspensionError):
            make()


@QUICK
@given(RATES, st.floats(0, 30), st.floats(0, 30))
def test_preload_adds_force_and_never_rate(rate: float, preload: float, more: float) -> None:
    """[H] F0 = k d; preload does not change the rate."""
    spring = LinearSpring(rate)
    assert spring.force_n(preload) == pytest.approx(rate * preload)
    assert spring.rate_n_per_mm(preload + more) == spring.rate_n_per_mm(preload)


# Air


def test_air_check_values() -> None:
    """[H] do 41, V0 300000 mm³, c 120, p0 = patm = 101.325 kPa -> 149.71 N (n = 1), 249.04 N (n = 1.4)."""
    air = AirChamber(41, 300_000, 101.325)
    assert air.force_n(120, SLOW) == pytest.approx(149.71, abs=0.005)
    assert air.force_n(120, FAST) == pytest.approx(249.04, abs=0.005)
    assert air.force_n(0) == 0


@QUICK
@given(st.floats(33, 50), st.floats(1, 1.4), st.floats(0, 0.9), st.floats(80, 300))
def test_air_rate_is_the_slope_of_its_force(
    diameter: float, exponent: float, share: float, pressure: float
) -> None:
    air = AirChamber(diameter, 250_000, pressure)
    stroke = share * 250_000 / air.area_mm2
    h = 1e-4
    slope = (air.force_n(stroke + h, exponent) - air.force_n(stroke - h, exponent)) / (2 * h)
    assert air.rate_n_per_mm(stroke, exponent) == pytest.approx(slope, rel=1e-5)


@QUICK
@given(st.floats(1, 1.39), st.floats(10, 150))
def test_air_is_harder_deeper_and_faster(exponent: float, stroke: float) -> None:
    air = AirChamber(41, 300_000)
    assert air.force_n(stroke + 1, exponent) > air.force_n(stroke, exponent)
    assert air.force_n(stroke, exponent + 0.01) > air.force_n(stroke, exponent)


def test_air_that_cannot_be() -> None:
    air = AirChamber(41, 300_000)
    with pytest.raises(SuspensionError, match="no air would be left"):
        air.force_n(300_000 / air.area_mm2)
    with pytest.raises(SuspensionError, match="exponent"):
        air.force_n(10, 1.5)
    with pytest.raises(SuspensionError) as caught:
        AirChamber(41, 300_000, 0)
    assert "absolute" in caught.value.remedy

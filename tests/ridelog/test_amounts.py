"""Numbers with units: factors against NIST SP 811, and what is refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelog.bikes.amounts import ANGLE, FORCE, MASS, PRESSURE, RATE, STRESS, VOLUME, is_dont_know
from suspension.errors import QuantityError
from suspension.quantities.declared import Expected, amount, by_rule, shaft_diameter


# Factors: NIST Special Publication 811 (2008), appendix B.8: 1 lbf/in = 0.1751268 N/mm, 1 lbf = 4.448222 N,
# 1 psi = 6.894757 kPa, 1 kgf = 9.80665 N, 1 lb = 0.45359237 kg.
@pytest.mark.parametrize(
    ("dimension", "text", "value"),
    [
        (RATE, "52 lbf/in", 52 * 0.1751268),
        (RATE, "52 lb/in", 52 * 0.1751268),
        (RATE, "0.9 kg/mm", 0.9 * 9.80665),
        (RATE, "0,9 kgf/mm", 0.9 * 9.80665),
        (RATE, "9.0 N/mm", 9.0),
        (FORCE, "100 lbf", 444.8222),
        (PRESSURE, "36 psi", 36 * 6.894757),
        (PRESSURE, "2.5 bar", 250.0),
        (MASS, "180 lb", 180 * 0.45359237),
        (MASS, "210 kg", 210.0),
        (ANGLE, "25°", 25.0),
        (VOLUME, "300 cc", 300.0),
        (STRESS, "79 GPa", 79000.0),
    ],
)
def test_units(dimension: Expected, text: str, value: float) -> None:
    found = amount(dimension, text, name="thing")
    assert found.value == pytest.approx(value, rel=1e-6)
    assert found.as_written == text and not found.uncertainty_given


def test_what_follows_the_sign_is_the_half_width_of_95_percent() -> None:
    assert amount(MASS, "210 kg ± 3 kg", name="mass").quantity.u95 == pytest.approx(3)
    assert amount(MASS, "210 ± 3 kg", name="mass").quantity.sigma == pytest.approx(1.5)
    assert amount(MASS, "210 kg ± 3", name="mass").quantity.sigma == pytest.approx(1.5)
    assert amount(MASS, "210 kg", name="mass").quantity.u95 == 1.0
    assert amount(RATE, "10 N/mm", name="rate").quantity.u95 == pytest.approx(0.5)
    assert amount(PRESSURE, "2 bar", name="pressure").quantity.u95 == pytest.approx(
        50
    )  # half of the last digit given


@pytest.mark.parametrize(
    ("dimension", "text", "words"),
    [
        (MASS, "210", "no unit"),
        (MASS, "210 N", "cannot be in"),
        (MASS, "9 N/mm", "cannot be in"),
        (RATE, "9 N", "cannot be in"),
        (MASS, "1,234 kg", "thousands separator"),
        (MASS, "3000 kg", "3000 kg"),
        (MASS, "210 kg ± 0 kg", "zero"),
        (MASS, "heavy", "not one number"),
        (MASS, "-5 kg", "negative"),
    ],
)
def test_refusals(dimension: Expected, text: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        amount(dimension, text, name="thing")


@settings(deadline=None)  # the first example loads pint
@given(st.decimals(1, 1400, places=3))
def test_kilograms_and_pounds_agree(kilograms: Decimal) -> None:
    pounds = float(kilograms) / 0.45359237
    assert amount(MASS, f"{pounds:.6f} lb", name="m").value == pytest.approx(float(kilograms), abs=1e-5)


@pytest.mark.parametrize("text", ["don't know", "Don’t  know.", "unknown", "?", "", " dont know "])
def test_dont_know(text: str) -> None:
    assert is_dont_know(text)


@pytest.mark.parametrize("text", ["0", "none", "no", "120 mm", "know"])
def test_known(text: str) -> None:
    assert not is_dont_know(text)


def test_lengths_are_the_trades_own() -> None:
    assert shaft_diameter("41.0 mm").quantity.u95 == pytest.approx(
        0.05
    )  # half of the last digit, over a caliper's 0.04
    assert by_rule("0 mm", name="x", allow_zero=True).value == 0.0
    assert by_rule("1 in", name="x").value == pytest.approx(25.4)  # exact, NIST SP 811

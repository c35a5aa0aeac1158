"""A value with its standard uncertainty. Source: JCGM 100 (GUM), 6.2.1 and 6.3.3: U = k u, k = 2 for about 95 %."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity


def test_expanded_uncertainty_is_twice_the_standard_one() -> None:
    assert Quantity(92.0, 0.25).u95 == 0.5
    assert Quantity.from_u95(92.0, 0.5) == Quantity(92.0, 0.25, Bound.EXACT)
    assert Quantity.from_u95(77.5, 1.0, Bound.AT_LEAST) == Quantity(77.5, 0.5, Bound.AT_LEAST)


@given(value=st.floats(-1e6, 1e6), u95=st.floats(0, 1e6))
def test_u95_goes_in_and_comes_out_to_the_last_bit(value: float, u95: float) -> None:
    # Halving and doubling are exact in binary, but for numbers near the least that a float can hold.
    held = Quantity.from_u95(value, u95)
    assert held.value == value and held.u95 == pytest.approx(u95, rel=0, abs=5e-324)


def test_bounds() -> None:
    assert Quantity(1, 0, Bound.AT_LEAST).at_least and not Quantity(1, 0, Bound.AT_LEAST).at_most
    assert Quantity(1, 0, Bound.AT_MOST).at_most and not Quantity(1, 0).at_least
    assert Bound.AT_LEAST.opposite is Bound.AT_MOST and Bound.EXACT.opposite is Bound.EXACT


@pytest.mark.parametrize(
    ("value", "sigma"), [(math.nan, 1), (math.inf, 1), (1, -0.1), (1, math.nan), (1, math.inf)]
)
def test_what_no_measurement_can_be_is_refused(value: float, sigma: float) -> None:
    with pytest.raises(SuspensionError):
        Quantity(value, sigma)


def test_it_does_not_change() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        Quantity(1.0, 0.1).value = 2.0  # type: ignore[misc]

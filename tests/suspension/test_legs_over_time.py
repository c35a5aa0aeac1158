"""Left less right over rides: the mean and its uncertainty by JCGM 100 (GUM), 4.2.3 and 5.1.2."""

from __future__ import annotations

import pytest

from suspension.quantities.quantity import Quantity
from suspension.stroke.legs_over_time import legs_over_time
from tests.helpers.present import present


def rides(*values: float, sigma: float = 0.5) -> list[Quantity]:
    return [Quantity(value, sigma) for value in values]


def test_mean_and_uncertainty() -> None:
    """3, 5, 4: mean 4, s 1, s/sqrt(3) 0.577; the readings' own 0.5/sqrt(3) is smaller."""
    found = present(legs_over_time(rides(3, 5, 4)))
    assert (found.mean_mm.value, found.mean_mm.sigma) == pytest.approx((4, 1 / 3**0.5))
    assert found.lasting and "left leg goes 4.0 mm deeper" in found.words
    assert present(legs_over_time(rides(4, 4, 4))).mean_mm.sigma == pytest.approx(0.5 / 3**0.5)


def test_two_rides_or_a_difference_that_changes_sides_do_not_last() -> None:
    assert not present(legs_over_time(rides(4, 4))).lasting
    assert not present(legs_over_time(rides(4, -5, 3, -2))).lasting
    assert "right leg goes" in present(legs_over_time(rides(-4, -4, -5))).words
    assert legs_over_time([]) is None

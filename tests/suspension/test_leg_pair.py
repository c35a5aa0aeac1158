"""Left against right. The rule follows from JCGM 100, 5.1.2."""

from __future__ import annotations

import math

import pytest

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg_pair import compare_legs


@pytest.mark.parametrize(("factor", "flagged"), [(0.99, False), (1.01, True)])
def test_legs_are_flagged_beyond_their_joint_doubt(factor: float, flagged: bool) -> None:
    sd = 0.5
    result = compare_legs(Quantity(90, sd), Quantity(90 + factor * 2 * math.sqrt(2) * sd, sd))
    assert result.flagged is flagged
    assert result.deeper_mm.value > 90


def test_limits_are_flagged_only_where_they_decide() -> None:
    at_least, exact = Quantity(80, 0.1, Bound.AT_LEAST), Quantity(60, 0.1)
    assert compare_legs(at_least, exact).flagged
    assert compare_legs(at_least, exact).deeper_mm is at_least
    # one that is at least 60 may well be 80
    low, high = Quantity(60, 0.1, Bound.AT_LEAST), Quantity(80, 0.1)
    assert not compare_legs(low, high).flagged
    assert compare_legs(low, high).deeper_mm is low

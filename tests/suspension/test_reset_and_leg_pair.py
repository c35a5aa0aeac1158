"""Used stroke since a reset, and left against right. Rules derived from geometry and JCGM 100, 5.1.2."""

import math

import pytest

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.leg_pair import compare_legs
from suspension.stroke.reset import used_since_reset


def test_distance_moved_alone_is_not_used_stroke():
    assert used_since_reset(Quantity(62, 0.3), None) is None


def test_reset_while_compressed_adds_its_compression():
    used = used_since_reset(Quantity(62, 0.3), Quantity(30, 0.4))
    assert used.value == 92 and used.sigma == pytest.approx(0.5) and used.bound is Bound.EXACT


@pytest.mark.parametrize(
    ("moved", "sd", "bound"), [(0.9, 0.1, Bound.AT_MOST), (1.1, 0.1, Bound.EXACT), (1.1, 0.6, Bound.AT_MOST)]
)
def test_not_moved_is_at_most(moved, sd, bound):
    used = used_since_reset(Quantity(moved, sd), Quantity(30, 0.4))
    assert used.bound is bound
    assert used.value == (30 if bound is Bound.AT_MOST else 30 + moved)


@pytest.mark.parametrize(("factor", "flagged"), [(0.99, False), (1.01, True)])
def test_legs_are_flagged_beyond_their_joint_doubt(factor, flagged):
    sd = 0.5
    result = compare_legs(Quantity(90, sd), Quantity(90 + factor * 2 * math.sqrt(2) * sd, sd))
    assert result.flagged is flagged
    assert result.deeper_mm.value > 90


def test_limits_are_flagged_only_where_they_decide():
    at_least, exact = Quantity(80, 0.1, Bound.AT_LEAST), Quantity(60, 0.1)
    assert compare_legs(at_least, exact).flagged
    assert compare_legs(at_least, exact).deeper_mm is at_least
    # one that is at least 60 may well be 80
    low, high = Quantity(60, 0.1, Bound.AT_LEAST), Quantity(80, 0.1)
    assert not compare_legs(low, high).flagged
    assert compare_legs(low, high).deeper_mm is low

"""The count for a load: from the statics, and how sure a found one is."""

from __future__ import annotations

import math

import pytest

from suspension.advice.setting import CountInterval, count_from_statics, count_interval
from suspension.springs.adjuster import Adjuster, AdjusterKind, Count, recounted

CLICKS = Adjuster(AdjusterKind.CLICKS, 15, 1.0)


def spring(added_mm: float) -> float:
    """One spring of 40 N/mm at MR 0.8, 40 mm in at the soft end."""
    return 40 * 0.8 * (40 + added_mm)


@pytest.mark.parametrize(
    ("low_n", "count"), [(0.0, 6), (31.9, 7), (32.1, 8), (-64.0, 4), (320.0, 15), (-400.0, 0)]
)
def test_added_load_over_the_force_of_a_mm(low_n: float, count: float) -> None:
    """dW/(n k MR): 32 N/mm for one spring of 40 N/mm at MR 0.8; up to the firmer click, within the range."""
    assert count_from_statics(spring(6) + low_n, spring, CLICKS) == count


def test_measured_ramp_positions_are_taken_as_measured() -> None:
    ramp = Adjuster(AdjusterKind.POSITIONS, positions_mm=(0.0, 2.0, 7.0, 9.0))
    assert count_from_statics(spring(0) + 2.5 * 32, spring, ramp) == 3
    assert count_from_statics(spring(0) + 2.0 * 32, spring, ramp) == 2


def test_without_a_steps_worth_there_is_no_count() -> None:
    assert count_from_statics(spring(6) + 100.0, spring, Adjuster(AdjusterKind.CLICKS, 15)) is None
    assert count_from_statics(100.0, lambda added: 0.0, Adjuster(AdjusterKind.CLICKS, None, 1.0)) is None


def test_the_interval_is_the_softest_count_that_is_firm_enough_with_5_and_95_percent() -> None:
    sure = {0.0: 0.01, 1.0: 0.049, 2.0: 0.051, 3.0: 0.5, 4.0: 0.949, 5.0: 0.951}
    assert count_interval(list(sure), sure.__getitem__) == CountInterval(2.0, 5.0)
    assert count_interval([0.0, 1.0], sure.__getitem__) == CountInterval(None, None)


@pytest.mark.parametrize(("counted", "sure"), [(3.0, True), (3.125, True), (3.13, False), (3.25, False)])
def test_a_recount_of_turns_may_differ_by_an_eighth(counted: float, sure: bool) -> None:
    """Turns are counted in halves and quarters; half a quarter is the reading's own."""
    found = recounted(Count(3.0), counted, Adjuster(AdjusterKind.TURNS, 6))
    assert found.is_sure is sure and (math.isclose(found.value or 0.0, counted) or not sure)


def test_a_recount_of_clicks_may_not_differ() -> None:
    assert not recounted(Count(6.0), 7.0, CLICKS).is_sure and recounted(Count(6.0), 6.0, CLICKS).is_sure

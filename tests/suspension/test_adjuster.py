"""Adjusters and counts: which end they start from, the mm per step, and what to do when a count is not sure.

[C] common practice with no source, unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.springs.adjuster import (
    Adjuster,
    AdjusterKind,
    Confidence,
    Count,
    CountedFrom,
    preload_mm,
    recount_steps,
    recounted,
)

CLICKS = Adjuster(AdjusterKind.CLICKS, last=12, step_mm=0.5)
RAMP = Adjuster(AdjusterKind.POSITIONS, positions_mm=(0, 4, 9, 13))


def test_preload_is_base_and_steps() -> None:
    """[H] d = d0 + N p."""
    assert preload_mm(CLICKS, 6, 10) == 13
    assert preload_mm(CLICKS, 6, None) is None
    assert preload_mm(Adjuster(AdjusterKind.CLICKS), 6, 10) is None


def test_ramp_positions_count_from_one_and_are_as_measured() -> None:
    assert [RAMP.added_mm(n) for n in (1, 2, 3, 4)] == [0, 4, 9, 13]
    assert RAMP.end == 4 and preload_mm(RAMP, 3, 15) == 24


def test_counts_from_the_hard_end_are_turned_round() -> None:
    assert CLICKS.from_soft(Count(3, CountedFrom.HARD)) == 9
    assert CLICKS.from_soft(Count(3)) == 3
    assert Adjuster(AdjusterKind.CLICKS).from_soft(Count(3, CountedFrom.HARD)) is None
    assert CLICKS.from_soft(Count(None)) is None
    assert CLICKS.from_soft(Count(3, confidence=Confidence.UNKNOWN)) is None
    # positions run from 1: the first from the hard end of four is the fourth from the soft end
    assert RAMP.from_soft(Count(1, CountedFrom.HARD)) == 4


def test_a_count_in_doubt_is_not_sure() -> None:
    assert Count(3).is_sure
    assert not Count(3, confidence=Confidence.IN_DOUBT).is_sure and not Count(None).is_sure


@given(st.integers(0, 12))
def test_from_either_end_is_the_same_setting(n: int) -> None:
    assert CLICKS.from_soft(Count(12 - n, CountedFrom.HARD)) == CLICKS.from_soft(Count(n))


@pytest.mark.parametrize("count", [-1, 13, 2.5])
def test_counts_that_do_not_exist(count: float) -> None:
    with pytest.raises(SuspensionError):
        CLICKS.added_mm(count)


def test_turns_may_be_halves() -> None:
    assert Adjuster(AdjusterKind.TURNS, 10, 1.5).added_mm(2.5) == 3.75


@settings(max_examples=40)
@given(st.floats(-20, 40))
def test_clipped_stays_inside(count: float) -> None:
    assert 0 <= CLICKS.clipped(count) <= 12
    assert RAMP.clipped(count) in (1, 4) or 1 < RAMP.clipped(count) < 4


def test_clipping_without_a_range_ends_only_at_soft() -> None:
    assert Adjuster(AdjusterKind.CLICKS).clipped(99) == 99 and Adjuster(AdjusterKind.CLICKS).clipped(-1) == 0


@pytest.mark.parametrize(
    "make",
    [
        lambda: Adjuster(AdjusterKind.CLICKS, last=0),
        lambda: Adjuster(AdjusterKind.CLICKS, step_mm=0),
        lambda: Adjuster(AdjusterKind.POSITIONS, positions_mm=(0, 4, 4)),
        lambda: Adjuster(AdjusterKind.POSITIONS, last=5, positions_mm=(0, 4, 9)),
    ],
)
def test_adjusters_that_are_none(make: Callable[..., Any]) -> None:
    with pytest.raises(SuspensionError):
        make()


def test_steps_at_once() -> None:
    """[C] 2 clicks, or one turn or ramp position."""
    assert [
        kind.most_at_once for kind in (AdjusterKind.CLICKS, AdjusterKind.TURNS, AdjusterKind.POSITIONS)
    ] == [2, 1, 1]


def test_recount_agrees_or_the_setting_is_unknown() -> None:
    assert recounted(Count(5), 5, CLICKS) == Count(5)
    assert recounted(Count(7, CountedFrom.HARD), 5, CLICKS).value == 5
    lost = recounted(Count(6), 5, CLICKS)
    assert lost.value is None and lost.confidence is Confidence.UNKNOWN
    assert recounted(Count(None), 5, CLICKS).value is None
    with pytest.raises(SuspensionError):
        recounted(Count(6), 13, CLICKS)


@pytest.mark.parametrize(
    ("logged", "counted", "agrees"),
    [(6.0, 6.0, True), (6.0, 6.125, True), (6.0, 5.875, True), (6.0, 6.25, False), (6.0, 5.5, False)],
)
def test_recounted_turns_agree_within_an_eighth(logged: float, counted: float, agrees: bool) -> None:
    """[C] Turns are counted in halves and quarters: an eighth is the same place, a quarter is another."""
    turns = Adjuster(AdjusterKind.TURNS, last=10, step_mm=1.0)
    found = recounted(Count(logged), counted, turns)
    assert found == (Count(counted) if agrees else Count(None, confidence=Confidence.UNKNOWN))


@pytest.mark.parametrize(("adjuster", "other"), [(CLICKS, 6), (CLICKS, 4), (RAMP, 3)])
def test_recounted_clicks_and_positions_agree_exactly(adjuster: Adjuster, other: float) -> None:
    logged = 5.0 if adjuster is CLICKS else 2.0
    assert recounted(Count(logged), logged, adjuster) == Count(logged)
    assert recounted(Count(logged), other, adjuster).value is None


def test_recount_tells_how() -> None:
    steps = " ".join(recount_steps(CLICKS, 7))
    for words in ("gently towards soft", "unknown", "7 clicks", "same on the other side"):
        assert words in steps
    assert "count you found" in " ".join(recount_steps(CLICKS, None))

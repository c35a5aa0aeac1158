"""Figures of the trade [C], common practice with no source: they warn, and never stand in for a value."""

from __future__ import annotations

import pytest

from suspension.quantities.plausibility import CRUSHED_SHARE, USUAL, Figure, warn_of, warn_of_crushed
from tests.helpers.present import present

TRADE = """
FORK_STROKE_MM 110 140
OFF_ROAD_FORK_STROKE_MM 200 310
TWIN_SHOCK_STROKE_MM 75 110
LINKAGE_SHOCK_STROKE_MM 50 75
LINKAGE_RATIO 0.35 0.6
TWIN_SHOCK_RATIO 0.7 0.95
FORK_TUBE_MM 33 50
SHOCK_SHAFT_MM 6 16
TIE_WIDTH_MM 2.5 4.8
O_RING_MM 2 4
BUMPER_MM 10 30
FORK_SPRING_RATE 6 11
TWIN_SPRING_RATE 15 30
LINKAGE_SPRING_RATE 70 160
PRELOAD_TURN_MM 1 2
PRELOAD_CLICK_MM 0.2 1
RAMP_POSITION_MM 3 5
ADJUSTER_RANGE_MM 10 15
STICTION_MM 3 10
UNSPRUNG_KG 10 25
RIDE_FREQUENCY_HZ 1.5 3
"""


def test_ranges_are_the_trades() -> None:
    rows = [line.split() for line in TRADE.strip().splitlines()]
    assert {name for name, *_ in rows} == set(Figure.__members__)
    for name, low, high in rows:
        assert USUAL[Figure[name]] == (float(low), float(high))
    assert CRUSHED_SHARE == (0.3, 0.5)


@pytest.mark.parametrize("figure", list(Figure))
def test_a_warning_outside_and_none_inside(figure: Figure) -> None:
    low, high = USUAL[figure]
    assert warn_of(figure, low) is None and warn_of(figure, high) is None
    for value in (0.98 * low, 1.02 * high):
        assert f"{low:g} to {high:g}" in present(warn_of(figure, value))


def test_an_inverted_ratio_is_guessed() -> None:
    """MR inverted is one of the trade's mistakes."""
    assert "wheel travel over stroke" in present(warn_of(Figure.LINKAGE_RATIO, 2.2))
    assert "wheel travel over stroke" in present(warn_of(Figure.TWIN_SHOCK_RATIO, 1.25))
    assert "wheel travel over stroke" not in present(warn_of(Figure.LINKAGE_RATIO, 0.9))


def test_crushed_bumper() -> None:
    assert warn_of_crushed(20, 8) is None and "0.75" in present(warn_of_crushed(20, 15))

"""Verdict bands on an interval. All limits [C], common practice with no source, configurable."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.verdict import CENSORED_WORDS, Band, BandLimits, judge_used

PLENTY, WINDOW, BUMPER, BOTTOMED = Band
# Sb 80, b 20, bs 8 -> S 92
SB, S = 80.0, 92.0


@pytest.mark.parametrize(
    ("used", "sd", "bands"),
    [
        (58.9, 0.5, (PLENTY,)),  # under 0.75 Sb = 60 with U = 1
        (59.1, 0.5, (PLENTY, WINDOW)),
        (60.9, 0.5, (PLENTY, WINDOW)),
        (61.0, 0.5, (WINDOW,)),
        (78.9, 0.5, (WINDOW,)),
        (79.1, 0.5, (WINDOW, BUMPER)),
        (81.0, 0.5, (BUMPER,)),
        (89.9, 0.5, (BUMPER,)),  # S - max(1, U) = 91
        (90.1, 0.5, (BUMPER, BOTTOMED)),
        (92.0, 0.5, (BOTTOMED,)),
        (90.9, 0.25, (BUMPER, BOTTOMED)),  # U = 0.5: the margin stays 1 mm
        (91.5, 0.25, (BOTTOMED,)),
        (92.0, 2.0, (BOTTOMED,)),  # U = 4: the margin is 4 mm
        (70.0, 12.0, (PLENTY, WINDOW, BUMPER, BOTTOMED)),
    ],
)
def test_bands(used: float, sd: float, bands: tuple[Band, ...]) -> None:
    verdict = judge_used(Quantity(used, sd), SB, S)
    assert verdict.bands == bands and not verdict.bumper_is_assumed and not verdict.is_limit
    assert ("Between" in verdict.words) is (len(bands) > 1)
    assert verdict.band is (bands[0] if len(bands) == 1 else None)


def test_trade_example() -> None:
    """[C] A front fork that used 89 mm of 122 mm is comfortably short of the end: 23 mm before 0.92 S."""
    verdict = judge_used(Quantity(89, 0.5), None, 122)
    assert verdict.band is WINDOW and verdict.bumper_is_assumed
    assert judge_used(Quantity(83, 0.5), None, 122).band is PLENTY  # 0.75 x 112.24 = 84.2


@pytest.mark.parametrize(
    ("used", "band"),
    [
        (82.0, PLENTY),
        (84.0, WINDOW),
        (109.0, WINDOW),
        (112.0, BUMPER),
        (116.4, BUMPER),
        (119.7, BOTTOMED),
        (120.0, BOTTOMED),
    ],
)
def test_without_the_bumpers_place_92_percent_of_the_stroke_is_taken(used: float, band: Band) -> None:
    """[C] Sb unknown: 0.92 x 120 = 110.4 mm, said so; S itself is never the end of a window."""
    verdict = judge_used(Quantity(used, 0.3), None, 120)
    assert verdict.band is band and "92 % of the stroke is taken" in verdict.remarks[0]


def test_without_a_hard_stop_bottoming_cannot_be_excluded() -> None:
    verdict = judge_used(Quantity(85, 0.5), 80, None)
    assert verdict.bands == (BUMPER, BOTTOMED) and "cannot be excluded" in verdict.remarks[0]
    assert judge_used(Quantity(70, 0.5), 80, None).band is WINDOW
    assert verdict.is_above_window


def test_without_either_there_are_only_mm() -> None:
    """Missing: S and Sb -> mm, no verdict."""
    verdict = judge_used(Quantity(70, 0.5), None, None)
    assert verdict.bands == () and verdict.band is None and "No verdict" in verdict.words
    assert not verdict.is_above_window
    assert judge_used(None, SB, S).bands == ()


def test_censored_right() -> None:
    """[C] "It reached the bumper or came within a marker's width of it; bottoming cannot be excluded"."""
    verdict = judge_used(Quantity(77.5, 0.3, Bound.AT_LEAST), SB, S)
    assert verdict.words == CENSORED_WORDS and verdict.is_limit
    assert verdict.bands == (WINDOW, BUMPER, BOTTOMED) and verdict.band is None


def test_censored_left() -> None:
    verdict = judge_used(Quantity(30, 0.3, Bound.AT_MOST), SB, S)
    assert verdict.bands == (PLENTY,) and verdict.is_limit
    assert judge_used(Quantity(70, 0.3, Bound.AT_MOST), SB, S).bands == (PLENTY, WINDOW)


def test_limits_can_be_the_owners() -> None:
    own = BandLimits(window_from=0.6, window_to=0.9)
    assert judge_used(Quantity(50, 0.5), SB, S, own).band is WINDOW
    assert judge_used(Quantity(75, 0.5), SB, S, own).band is BUMPER
    for bad in ((0.9, 0.8, 1), (0, 1, 1), (0.75, 1.1, 1), (0.75, 1, -1)):
        with pytest.raises(SuspensionError):
            BandLimits(*bad)


@settings(max_examples=100)
@given(st.floats(0, 92), st.floats(0.05, 5), st.floats(0.1, 30))
def test_deeper_is_never_judged_shallower(used: float, sd: float, deeper: float) -> None:
    order = list(Band)
    one, two = judge_used(Quantity(used, sd), SB, S), judge_used(Quantity(used + deeper, sd), SB, S)
    assert order.index(two.bands[0]) >= order.index(one.bands[0])
    assert order.index(two.bands[-1]) >= order.index(one.bands[-1])


@settings(max_examples=100)
@given(st.floats(0, 100), st.floats(0.05, 8), st.booleans(), st.booleans())
def test_there_is_a_verdict_and_its_bands_are_neighbours(
    used: float, sd: float, knows_sb: bool, knows_s: bool
) -> None:
    verdict = judge_used(Quantity(used, sd), SB if knows_sb else None, S if knows_s else None)
    places = [list(Band).index(band) for band in verdict.bands]
    assert (len(places) > 0) is (knows_sb or knows_s)
    if places:
        assert places == list(range(places[0], places[-1] + 1))


def test_an_uncertainty_as_large_as_the_bumper_does_not_bottom_what_never_met_it() -> None:
    """Sb 99, S 100, 93 ± 5 mm: S - U = 95 would be bottomed at 98, before the bumper is met."""
    assert judge_used(Quantity(93.0, 2.5), 99.0, 100.0).bands == (Band.WINDOW,)

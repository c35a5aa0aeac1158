"""Which of two shafts the card lies beside: made places in the card's plane."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calibration.card import BOARD_WIDTH_MM
from vision.geometry.views import FinderView
from vision.reasons import Reason
from vision.shaft import find
from vision.shaft.find import (
    SECOND_SHAFT_REMARK,
    ShaftGuess,
    ShaftNotFound,
    check_unambiguous,
    odds_beside_card,
)

DIAMETER_MM = 40.0
VIEW = FinderView(np.zeros((216, 128, 3), np.uint8))


def shaft(side: int, gap_mm: float, width_mm: float = 1.02 * DIAMETER_MM) -> ShaftGuess:
    """Make a shaft whose nearer edge lies so far from the card's."""
    x_mm = BOARD_WIDTH_MM / 2 + side * (0.5 * (BOARD_WIDTH_MM + width_mm) + gap_mm)
    return ShaftGuess(x_mm, 0.0, 0.0, 160.0, width_mm)


def test_odds_are_those_of_two_normal_errors() -> None:
    """Two standard deviations of the gap and one of the width: exp((4 + 1) / 2)."""
    second = shaft(-1, 15.0 + 2 * 6.0, (1.02 - 0.045) * DIAMETER_MM)
    assert odds_beside_card(shaft(1, 15.0), second, DIAMETER_MM) == pytest.approx(math.exp(2.5))


@pytest.mark.parametrize(
    ("second", "diameter_mm", "clear"),
    [
        (shaft(-1, 20.0), DIAMETER_MM, False),  # the other leg, as near
        (shaft(-1, 28.0, 0.94 * DIAMETER_MM), DIAMETER_MM, True),  # behind and farther off
        (shaft(-1, 2.0, 0.9 * DIAMETER_MM), DIAMETER_MM, True),  # the card lies over its edge
        (shaft(-1, 2.0, 0.9 * DIAMETER_MM), 14.0, False),  # a shock: springs keep the card off
    ],
)
def test_a_second_shaft_is_named_or_refused(
    second: ShaftGuess, diameter_mm: float, clear: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(find, "_second_shaft", lambda *_: second)
    first = shaft(1, 13.0)
    if clear:
        assert check_unambiguous(VIEW, first, diameter_mm) == SECOND_SHAFT_REMARK
        return
    with pytest.raises(ShaftNotFound) as refused:
        check_unambiguous(VIEW, first, diameter_mm)
    assert refused.value.reason is Reason.TWO_SHAFTS


def test_one_shaft_needs_no_remark(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(find, "_second_shaft", lambda *_: None)
    assert check_unambiguous(VIEW, shaft(1, 13.0), DIAMETER_MM) is None

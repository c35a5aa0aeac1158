"""Wheel rate from a sag pair, against the trade's check values [derived there from geometry and statics]."""

from __future__ import annotations

import pytest

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.pair_rate import PairRate, added_at_axle_n, rate_of_sag_pair
from tests.helpers.present import present


def pair(
    file_rate: float, ratio: float | None = None, static: float = 7.0, u95: float = 0.5
) -> PairRate | None:
    added = added_at_axle_n(84, 790, 1440, rear=True)
    return rate_of_sag_pair(
        Quantity(added, 4.0), Quantity(static, u95 / 2), Quantity(static + 25, u95 / 2), file_rate, ratio
    )


def test_check_value() -> None:
    """84 kg rider at 790 of 1440 mm, 7 and 32 mm: 18.1 N/mm at the wheel, against 2 x 18 x 0.85² = 26.0."""
    found = present(pair(2 * 18 * 0.85**2, 0.85))
    assert found.rate_n_per_mm.value == pytest.approx(18.1, abs=0.05)
    assert "18.1" in present(found.contradiction) and "26.0" in present(found.contradiction)


def test_moments_close() -> None:
    """Both axles together carry the rider [handbook]; 84 kg weighs 823.8 N (NIST SP 811, g = 9.80665)."""
    both = sum(added_at_axle_n(84, 790, 1440, rear=rear) for rear in (True, False))
    assert both == pytest.approx(84 * 9.80665)
    with pytest.raises(SuspensionError):
        added_at_axle_n(84, 790, 0, rear=True)


def test_within_fifteen_percent_nothing_is_said() -> None:
    rate = present(pair(18)).rate_n_per_mm.value
    assert (
        present(pair(1.14 * rate)).contradiction is None and present(pair(0.86 * rate)).contradiction is None
    )
    assert present(pair(1.17 * rate)).contradiction and present(pair(0.83 * rate)).contradiction


def test_a_pair_that_is_itself_vague_contradicts_nothing() -> None:
    assert present(pair(26.0, u95=12)).contradiction is None


@pytest.mark.parametrize(
    ("factor", "ratio", "words"),
    [
        (0.75**4, 0.75, "motion ratio is inverted"),
        (1.25**4, 1.25, "motion ratio is inverted"),
        (2.0, None, "one spring is counted as two"),
        (5.71, None, "lbf/in"),
        (1 / 9.8, None, "kgf/mm"),
        (3.3, None, "too stiff"),
        (0.3, None, "too soft"),
    ],
)
def test_which_value_is_likely_wrong(factor: float, ratio: float | None, words: str) -> None:
    rate = present(pair(18)).rate_n_per_mm.value
    assert words in present(present(pair(factor * rate, ratio)).contradiction)


def test_a_bike_that_may_be_topped_out_says_nothing() -> None:
    assert pair(26.0, static=2.0) is None


def test_the_same_sag_twice_says_nothing() -> None:
    assert rate_of_sag_pair(Quantity(450, 4), Quantity(7, 0.5), Quantity(7.5, 0.5)) is None

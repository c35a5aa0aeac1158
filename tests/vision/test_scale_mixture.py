"""The mixture of what may be wrong with the scale: card, print, or diameter."""

from __future__ import annotations

import numpy as np
import pytest

from vision.adjustment.scale_mixture import (
    FALSE_WIDTH_SD,
    FALSE_WIDTH_SHARE,
    MISLAID_SD_MM,
    MISLAID_SHARE,
    MISPRINT_SD,
    MISPRINT_SHARE,
    USUAL_WITHIN_SDS,
    scale_priors,
)

USUAL_MM, DISTANCE_MM = 5.0, 400.0


DEPTH_MM = np.linspace(-300.0, 300.0, 120_001)


def posterior(gap_mm: float, gap_sd_mm: float) -> np.ndarray:
    """Density of the card's depth over a fine grid of depths, which sums to 1 (Bayes' theorem).

    What is seen is the card's depth plus what the width's error looks like plus the gap's own error.
    """
    mislaid = np.hypot(USUAL_MM, MISLAID_SD_MM)
    misprinted = np.hypot(USUAL_MM, MISPRINT_SD * DISTANCE_MM)
    false_width = np.hypot(gap_sd_mm, FALSE_WIDTH_SD * DISTANCE_MM)
    density = np.zeros_like(DEPTH_MM)
    everywhere, usual = np.inf, USUAL_WITHIN_SDS * USUAL_MM
    for share, card_sd, seen_sd, within in (
        (1 - MISLAID_SHARE - MISPRINT_SHARE - FALSE_WIDTH_SHARE, USUAL_MM, gap_sd_mm, usual),
        (MISLAID_SHARE, mislaid, gap_sd_mm, everywhere),
        (MISPRINT_SHARE, misprinted, gap_sd_mm, everywhere),
        (FALSE_WIDTH_SHARE, USUAL_MM, false_width, everywhere),
    ):
        prior = np.where(np.abs(DEPTH_MM) < within, np.exp(-0.5 * (DEPTH_MM / card_sd) ** 2) / card_sd, 0.0)
        density += share * prior * np.exp(-0.5 * ((gap_mm - DEPTH_MM) / seen_sd) ** 2) / seen_sd
    return np.asarray(density / density.sum())


def depth_of(gap_mm: float, gap_sd_mm: float) -> tuple[float, float]:
    """Mean and standard deviation of the depth that the normal priors leave: each takes its share of the gap."""
    found = scale_priors(gap_mm, gap_sd_mm, USUAL_MM, DISTANCE_MM)
    depth = found.depth_sd_mm**2
    width = gap_sd_mm**2 + (found.diameter_extra_sd * DISTANCE_MM) ** 2
    return gap_mm * depth / (depth + width), float(np.sqrt(depth * width / (depth + width)))


@pytest.mark.parametrize("gap_mm", [3.0, -8.0, 12.0, 20.0, -30.0])
@pytest.mark.parametrize("gap_sd_mm", [0.5, 2.0, 8.0])
def test_twice_the_sd_holds_the_mixture(gap_mm: float, gap_sd_mm: float) -> None:
    density = posterior(gap_mm, gap_sd_mm)
    mean_mm, sd_mm = depth_of(gap_mm, gap_sd_mm)
    # The part of a usual card's density beyond its limit is dropped by weight, not cut off.
    assert mean_mm == pytest.approx(float(density @ DEPTH_MM), abs=0.5 * sd_mm)
    within = float(density[np.abs(DEPTH_MM - mean_mm) <= 2 * sd_mm].sum())
    assert 0.93 < within < 0.99


def test_what_agrees_stays_as_it_is() -> None:
    """Card and diameter agree to the millimetre: 1 % of depth and the diameter's u hardly grow."""
    found = scale_priors(0.5, 0.5, USUAL_MM, DISTANCE_MM)
    assert found.depth_sd_mm < 1.2 * USUAL_MM
    assert found.diameter_extra_sd * DISTANCE_MM < 1.5


def test_a_card_on_the_front_and_a_false_diameter_are_both_within_reach() -> None:
    """20 mm off at 400 mm: the card on a wide tube's front, or a diameter 5 % false; 2 u reaches either."""
    mean_mm, sd_mm = depth_of(20.0, 1.0)
    assert mean_mm - 2 * sd_mm < 0.1 * 20.0
    assert mean_mm + 2 * sd_mm > 20.0


def test_a_depth_that_the_photo_leaves_open_is_the_cards() -> None:
    """One silhouette only: the photo says nothing, so that the prior holds, with its share of mislaid cards."""
    found = scale_priors(0.0, 1000.0, USUAL_MM, DISTANCE_MM)
    assert 1.0 < found.depth_sd_mm / USUAL_MM < 1.25

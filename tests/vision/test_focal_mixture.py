"""The mixture prior of the focal length: what the photo says decides how far the file is believed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.special_photos import case
from vision.adjustment.focal_mixture import FALSE_SD, FALSE_SHARE
from vision.adjustment.mixture import Mixture
from vision.adjustment.parameters import LOGF
from vision.adjustment.solve import solve

EXIF_SD = 0.012
FALSE = Mixture(FALSE_SHARE, FALSE_SD)


def posterior(seen: float, seen_sd: float) -> tuple[float, float]:
    """Mean and variance under the mixture, by summing both densities over a fine grid (Bayes' theorem)."""
    x = np.linspace(-4, 4, 800_001)
    right = (1 - FALSE_SHARE) * np.exp(-0.5 * (x / EXIF_SD) ** 2) / EXIF_SD
    wrong = FALSE_SHARE * np.exp(-0.5 * (x / FALSE_SD) ** 2) / FALSE_SD
    density = (right + wrong) * np.exp(-0.5 * ((x - seen) / seen_sd) ** 2)
    density /= density.sum()
    mean = float(density @ x)
    return mean, float(density @ (x - mean) ** 2)


@pytest.mark.parametrize("seen", [0.0, 0.05, -0.15, 0.3])
@pytest.mark.parametrize("seen_sd", [0.01, 0.05, 0.1, 0.3])
def test_the_normal_prior_leaves_what_the_mixture_leaves(seen: float, seen_sd: float) -> None:
    mean, variance = posterior(seen, seen_sd)
    prior = EXIF_SD**2 + FALSE.extra_sd(seen, seen_sd, EXIF_SD) ** 2
    left, moved = 1 / (1 / prior + 1 / seen_sd**2), seen * prior / (prior + seen_sd**2)
    at_the_widest = prior == pytest.approx(FALSE_SD**2)
    assert at_the_widest or left >= 0.999 * variance
    assert at_the_widest or abs(moved) >= 0.999 * abs(mean) - 1e-9
    assert (
        at_the_widest or left == pytest.approx(variance, rel=1e-3) or moved == pytest.approx(mean, rel=1e-3)
    )


def test_a_photo_that_agrees_doubts_little() -> None:
    assert FALSE.extra_sd(0.01, 0.02, EXIF_SD) < EXIF_SD


def test_a_photo_that_contradicts_is_believed() -> None:
    """Four standard uncertainties off: the file's value counts no more."""
    assert FALSE.extra_sd(0.3, 0.07, EXIF_SD) > 0.3


def test_an_assumed_focal_length_as_vague_as_a_false_one_is_left() -> None:
    assert FALSE.extra_sd(0.2, 0.1, FALSE_SD) == 0.0


def test_a_reading_holds_the_doubt() -> None:
    """The prior is wider in the last adjustment than in the file, and what results is so, too."""
    found = case("plain").read()
    assert found.joint is not None and found.exposed is not None
    observations, covariance = found.joint.observations, found.joint.solution.covariance
    assert observations.focal_extra_sd > 0
    assert observations.focal_prior_sd == pytest.approx(
        np.hypot(observations.focal_rel_sd, observations.focal_extra_sd)
    )
    undoubted = solve(found.joint.solution.theta, replace(observations, focal_extra_sd=0.0))
    assert covariance[LOGF, LOGF] > undoubted.covariance[LOGF, LOGF]


@pytest.mark.parametrize("times", [0.75, 1.3])
def test_a_false_focal_length_is_not_believed_blindly(times: float) -> None:
    """The plain photo read with another lens' focal length: refused, or right within what it states."""
    plain = case("plain")
    found = replace(plain, request=replace(plain.request, focal_px=times * plain.request.focal_px)).read()
    # True lengths of this rendering: tests/vision/photos/plain.json.
    for length, true_mm in ((found.exposed, 106.766), (found.marker, 48.0), (found.remaining, 58.766)):
        assert length is None or abs(length.value_mm - true_mm) <= max(1.0, length.u95_mm)

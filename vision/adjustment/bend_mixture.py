"""Whether the card is flat or curled: a mixture prior on its bend, weighed by its own corners."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.mixture import Mixture, without_prior
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import BEND, FIXED
from vision.adjustment.solve import Solution, solve

# Cards that are not stuck on something stiff curl by 1 to 5 mm at their ends; of the 77 photos as people make them 12
# (judgement, no source).
CURLED = Mixture(share=0.15, sd=3.0)
# A bend is said from this on, mm, and from so many of its standard uncertainties: less changes no length.
REMARK_MM, REMARK_SIGNIFICANCE = 1.0, 3.0
# What is fitted to a card alone: pose, focal length, distortion and bend.
FITTED = 9
# Least information of the corners on the bend, 1/mm²: keeps the division regular.
_LEAST_INFORMATION = 1e-4


def with_bend_prior(theta: np.ndarray, observations: Observations) -> tuple[np.ndarray, Observations]:
    """Widen the prior on the card's bend by what its corners say.

    Parameters
    ----------
    theta : ndarray
        Start of the adjustment.
    observations : Observations
        Of the card; silhouettes and rims are not needed.

    Returns
    -------
    theta : ndarray
        The same with card and lens as solved for.
    observations : Observations
        With `bend_sd_mm` and `corner_sd_px`.
    """
    alone = replace(observations, bend_sd_mm=CURLED.sd, rims=())
    free = solve(theta[:FIXED], alone)
    corner_sd_px = scatter_px(free, len(observations.sighting.corner_ids))
    if corner_sd_px > observations.corner_sd_px:
        observations = replace(observations, corner_sd_px=corner_sd_px)
        free = solve(free.theta, replace(alone, corner_sd_px=corner_sd_px))
    seen, seen_sd = without_prior(
        float(free.theta[BEND]), float(free.covariance[BEND, BEND]), CURLED.sd, _LEAST_INFORMATION
    )
    extra = CURLED.extra_sd(seen, seen_sd, observations.bend_sd_mm)
    start = np.concatenate([free.theta, theta[FIXED:]])
    return start, replace(observations, bend_sd_mm=float(np.hypot(observations.bend_sd_mm, extra)))


def scatter_px(free: Solution, corners: int) -> float:
    """Scatter of the card's corners about what was fitted to them, px (sd along either axis).

    Blur, noise and overexposure leave corners that fit worse than in a clear photo, and so does paper that is bent two
    ways: then all that the card says of lens and pose is as much vaguer (the Birge ratio).

    Parameters
    ----------
    free : Solution
        Of the card alone.
    corners : int
        How many there are.
    """
    return float(free.corner_rms_px * np.sqrt(corners / max(2 * corners - FITTED, 1)))


def bend_remark(solution: Solution) -> str | None:
    """Say that the card is curled, where it surely is; None elsewhere."""
    bend_mm, sd_mm = float(solution.theta[BEND]), float(np.sqrt(solution.covariance[BEND, BEND]))
    if abs(bend_mm) < max(REMARK_MM, REMARK_SIGNIFICANCE * sd_mm):
        return None
    side = "towards the camera" if bend_mm > 0 else "away from the camera"
    return (
        f"The card is curled: its ends stand {abs(bend_mm):.0f} mm {side}. That was solved for; stick the card on "
        "something stiff for a smaller uncertainty."
    )

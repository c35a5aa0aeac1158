"""A mixture prior on the focal length, which may be another photo's or that of a frame since cut.

The prior is a mixture: as the file (or the user) says, within its standard uncertainty, or anything about it. What the
photo alone says of the focal length weighs both against each other. The adjustment knows normal priors only, so the
mixture is replaced by the normal prior that leaves as much uncertain (docs/measurement-model.md, "Focal length").
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.observations import Observations
from vision.adjustment.parameters import LOGF
from vision.adjustment.solve import solve

# Share of photos whose focal length is not theirs (other frame, cut, another lens): judgement, no source. Of the 77
# photos as people make them a sixth is cut with EXIF kept.
FALSE_SHARE = 0.1
# Standard uncertainty of the logarithm of a focal length that is not the photo's: crops halve or double it.
FALSE_SD = 0.5
# Least information of the photo on the logarithm of its focal length: keeps the division regular.
_LEAST_INFORMATION = 1e-6


def with_mixture_prior(theta: np.ndarray, observations: Observations) -> Observations:
    """Widen the prior on the focal length by what the photo leaves open.

    Parameters
    ----------
    theta : ndarray
        Solution for `observations`.
    observations : Observations

    Returns
    -------
    Observations
        With `focal_extra_sd`.
    """
    free = solve(theta, replace(observations, focal_rel_sd=FALSE_SD, focal_extra_sd=0.0))
    variance = float(free.covariance[LOGF, LOGF])
    # What the photo says without any prior.
    information = max(1 / variance - 1 / FALSE_SD**2, _LEAST_INFORMATION)
    seen = float(free.theta[LOGF]) / variance / information
    return replace(
        observations, focal_extra_sd=focal_extra_sd(seen, information**-0.5, observations.focal_rel_sd)
    )


def focal_extra_sd(seen: float, seen_sd: float, prior_sd: float) -> float:
    """Derive the standard uncertainty to add, in quadrature, to that of the focal length.

    Parameters
    ----------
    seen, seen_sd : float
        Logarithm of the focal length over its prior that the photo alone gives, and its standard uncertainty.
    prior_sd : float
        Relative standard uncertainty of the prior.

    Returns
    -------
    float
        So that a normal prior leaves as large a variance, or moves as far towards what the photo gives, as the
        mixture does, whichever asks for more.
    """
    if prior_sd >= FALSE_SD:
        return 0.0
    share = np.array([1 - FALSE_SHARE, FALSE_SHARE])
    prior = np.array([prior_sd, FALSE_SD]) ** 2
    data = seen_sd**2
    # Evidence of either hypothesis, as logarithms: the photo's value is normal about 0 with both variances.
    log_evidence = np.log(share) - 0.5 * seen**2 / (data + prior) - 0.5 * np.log(data + prior)
    weight = np.exp(log_evidence - log_evidence.max())
    weight /= weight.sum()
    mean, variance = seen * prior / (data + prior), data * prior / (data + prior)
    mixed = float(weight @ mean)
    spread = float(weight @ (variance + (mean - mixed) ** 2))
    by_variance = 1 / max(1 / spread - 1 / data, 1 / FALSE_SD**2)
    by_mean = 0.0 if seen == mixed else data * mixed / (seen - mixed)
    wanted = min(max(by_variance, by_mean, prior_sd**2), FALSE_SD**2)
    return float(np.sqrt(wanted - prior_sd**2))

"""A mixture prior on the focal length, which may be another photo's or that of a frame since cut.

The prior is a mixture: as the file (or the user) says, within its standard uncertainty, or anything about it. What the
photo alone says of the focal length weighs both against each other. The adjustment knows normal priors only, so the
mixture is replaced by the normal prior that leaves as much uncertain (docs/measurement-model.md, "Focal length").
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.mixture import Mixture, without_prior
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import LOGF
from vision.adjustment.solve import solve

# Share of photos whose focal length is not theirs (other frame, cut, another lens): judgement, no source. Of the 77
# photos as people make them a sixth is cut with EXIF kept, a seventh has lost it. Where the photo shows its own focal
# length the share hardly matters (docs/measured.md, "Spoilt photos").
FALSE_SHARE = 0.2
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
    seen, seen_sd = without_prior(
        float(free.theta[LOGF]), float(free.covariance[LOGF, LOGF]), FALSE_SD, _LEAST_INFORMATION
    )
    extra = Mixture(FALSE_SHARE, FALSE_SD).extra_sd(seen, seen_sd, observations.focal_rel_sd)
    return replace(observations, focal_extra_sd=extra)

"""Whether a reshaped photo's pixels are square: a mixture prior on their aspect, weighed by what the photo shows.

Pixels of cameras are square, and cutting a photo leaves them so. An editor that forces a photo into another shape
scales its sides differently; of a card that then looks tilted, only perspective and the shaft say that it is not.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.camera import ASPECT_SD, SQUARE_ASPECT_SD
from vision.adjustment.mixture import Mixture, without_prior
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import ASPECT, FIXED
from vision.adjustment.solve import solve

# Least information of the photo on the logarithm of the aspect: keeps the division regular.
_LEAST_INFORMATION = 1e-2


def with_aspect_prior(theta: np.ndarray, observations: Observations) -> Observations:
    """Widen the prior on the pixels' aspect by what the photo leaves open.

    Parameters
    ----------
    theta : ndarray
        Start of the adjustment, or a solution for `observations`.
    observations : Observations

    Returns
    -------
    Observations
        With `aspect_extra_sd`; the same where the file shows no reshaping.
    """
    if observations.unequal_share == 0.0:
        return observations
    # A rim's curve errs as a whole, and would set the aspect where card and silhouettes leave it open.
    seen_without = replace(observations, rims=())
    free = solve(theta[:FIXED], replace(seen_without, aspect_extra_sd=ASPECT_SD))
    seen, seen_sd = without_prior(
        float(free.theta[ASPECT]), float(free.covariance[ASPECT, ASPECT]), ASPECT_SD, _LEAST_INFORMATION
    )
    unequal = Mixture(observations.unequal_share, ASPECT_SD)
    return replace(observations, aspect_extra_sd=unequal.extra_sd(seen, seen_sd, SQUARE_ASPECT_SD))

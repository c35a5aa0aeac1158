"""A prior that is one of two normal ones, replaced by the normal prior that leaves as much uncertain.

The adjustment knows normal priors only. A value that is mostly what it is taken for, and at times something else
(another photo's focal length, a curled card), has a mixture as its prior; what the photo alone says of it weighs both
against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, sqrt

import numpy as np

# What two standard uncertainties of a normal distribution hold.
TWO_SD = erf(2 / sqrt(2))


@dataclass(frozen=True)
class Mixture:
    """The other of two normal priors about zero.

    Attributes
    ----------
    share : float
        Its share of all photos.
    sd : float
        Its standard uncertainty.
    """

    share: float
    sd: float

    def extra_sd(self, seen: float, seen_sd: float, prior_sd: float) -> float:
        """Derive the standard uncertainty to add, in quadrature, to that of the usual prior.

        Parameters
        ----------
        seen, seen_sd : float
            What the photo alone says, as a difference from the prior's mean, and its standard uncertainty.
        prior_sd : float
            Of the usual prior.

        Returns
        -------
        float
            So that a normal prior leaves as large a variance, or moves as far towards what the photo gives, as the
            mixture does, whichever asks for more.
        """
        if prior_sd >= self.sd:
            return 0.0
        share = np.array([1 - self.share, self.share])
        prior = np.array([prior_sd, self.sd]) ** 2
        data = seen_sd**2
        # Evidence of either hypothesis, as logarithms: the photo's value is normal about 0 with both variances.
        log_evidence = np.log(share) - 0.5 * seen**2 / (data + prior) - 0.5 * np.log(data + prior)
        weight = np.exp(log_evidence - log_evidence.max())
        weight /= weight.sum()
        mean, variance = seen * prior / (data + prior), data * prior / (data + prior)
        mixed = float(weight @ mean)
        spread = float(weight @ (variance + (mean - mixed) ** 2))
        by_variance = 1 / max(1 / spread - 1 / data, 1 / self.sd**2)
        by_mean = 0.0 if seen == mixed else data * mixed / (seen - mixed)
        wanted = min(max(by_variance, by_mean, prior_sd**2), self.sd**2)
        return float(np.sqrt(wanted - prior_sd**2))


def without_prior(
    value: float, variance: float, prior_sd: float, least_information: float
) -> tuple[float, float]:
    """Remove a normal prior about zero from a solution: what the observations alone say, and its standard uncertainty.

    Parameters
    ----------
    value, variance : float
        Of the solution.
    prior_sd : float
        Of the prior that it held.
    least_information : float
        Least information of the observations, the inverse of a variance: keeps the division regular.
    """
    information = max(1 / variance - 1 / prior_sd**2, least_information)
    return value / variance / information, information**-0.5


def half_width(weight: np.ndarray, mean: np.ndarray, sd: np.ndarray) -> float:
    """Half the width of the interval about 0 that holds `TWO_SD` of a mixture of normal distributions."""

    def held(half: float) -> float:
        parts = zip(weight.tolist(), mean.tolist(), sd.tolist(), strict=True)
        return float(sum(w * between(-half, half, m, s) for w, m, s in parts))

    low, high = 0.0, float(np.max(np.abs(mean) + 4 * sd))
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if held(middle) < TWO_SD else (low, middle)
    return high


def between(low: float, high: float, mean: float, sd: float) -> float:
    """Share of a normal distribution between two values."""
    return 0.5 * (erf((high - mean) / sd / sqrt(2)) - erf((low - mean) / sd / sqrt(2)))

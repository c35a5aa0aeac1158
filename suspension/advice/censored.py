"""Readings that are only a limit: how likely each run is under a model, a limit being an answer of its own.

A marker at the bumper says "at least", one that has not moved says "at most". Neither is dropped, and neither is
used as the value itself.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity

if TYPE_CHECKING:
    import numpy as np


def log_likelihood(used_mm: Quantity, mean_mm: np.ndarray, run_sd_mm: float) -> np.ndarray:
    """Log likelihood of one run's reading for each of many means of the model.

    Parameters
    ----------
    used_mm : Quantity
        The reading, mm.
    mean_mm : ndarray of float, any shape
        What the model expects, mm.
    run_sd_mm : float
        Ride-to-ride scatter, mm; the reading's own uncertainty is added in squares.

    Returns
    -------
    ndarray of float, the same shape
        Exact: the normal density's logarithm. At least L: log(1 - Phi((L - mean)/sd)). At most L:
        log Phi((L - mean)/sd). All [derived].

    Raises
    ------
    SuspensionError
        A scatter that is not positive.
    """
    from scipy.special import log_ndtr

    sd = spread_mm(used_mm, run_sd_mm)
    z = (used_mm.value - mean_mm) / sd
    if used_mm.bound is Bound.AT_LEAST:
        above: np.ndarray = log_ndtr(-z)
        return above
    if used_mm.bound is Bound.AT_MOST:
        below: np.ndarray = log_ndtr(z)
        return below
    return -0.5 * z**2 - math.log(sd * math.sqrt(2 * math.pi))


def spread_mm(used_mm: Quantity, run_sd_mm: float) -> float:
    """Spread of a reading about the model's mean: ride to ride and reading together, mm."""
    if not run_sd_mm > 0 or not math.isfinite(run_sd_mm):
        raise SuspensionError("The ride-to-ride scatter is not above zero.", "3 to 6 mm is usual.")
    return math.hypot(run_sd_mm, used_mm.sigma)

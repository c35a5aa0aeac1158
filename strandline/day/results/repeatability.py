"""Repeatability of the day: how well readings of one leg, photographed more than once, agree.

One-way random effects: reading j of leg i is mu + leg_i + e_ij. The variance of e is the repeatability; its
interval is exact for normal errors, however unequal the legs' numbers of photos are (chi-square on the pooled
degrees of freedom; any textbook of analysis of variance). The legs' own variance is estimated beside it by the
analysis of variance with the n0 of unequal groups.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

LEVEL = 0.95


@dataclass(frozen=True)
class Repeatability:
    """Repeatability of one quantity.

    Attributes
    ----------
    groups, readings : int
        Legs that were photographed more than once, and their photos.
    freedom : int
        Degrees of freedom.
    sd : float
        Standard deviation between photos of one leg.
    low, high : float
        Its interval, `LEVEL`.
    between_sd : float or None
        Standard deviation between the legs; None where it does not differ from 0.
    """

    groups: int
    readings: int
    freedom: int
    sd: float
    low: float
    high: float
    between_sd: float | None


def repeatability(groups: Sequence[Sequence[float]]) -> Repeatability | None:
    """Estimate the repeatability.

    Parameters
    ----------
    groups : sequence of sequences of float
        Readings of one leg each; legs with fewer than two do not count.

    Returns
    -------
    Repeatability or None
        In the unit of the readings; None where no leg has two.
    """
    from scipy.special import gammaincinv  # not scipy.stats, which takes more than a second to load

    used = [group for group in groups if len(group) > 1]
    if not used:
        return None
    total = sum(len(group) for group in used)
    freedom = total - len(used)
    means = [math.fsum(group) / len(group) for group in used]
    within = math.fsum((x - mean) ** 2 for group, mean in zip(used, means, strict=True) for x in group)
    # The chi-square quantile by its definition: twice the gamma distribution's of half the degrees of freedom.
    low, high = (
        math.sqrt(within / (2 * float(gammaincinv(freedom / 2, p))))
        for p in ((1 + LEVEL) / 2, (1 - LEVEL) / 2)
    )
    variance = within / freedom
    return Repeatability(
        len(used), total, freedom, math.sqrt(variance), low, high, _between_sd(used, means, variance)
    )


def _between_sd(groups: Sequence[Sequence[float]], means: Sequence[float], variance: float) -> float | None:
    if len(groups) < 2:
        return None
    total = sum(len(group) for group in groups)
    grand = math.fsum(len(g) * m for g, m in zip(groups, means, strict=True)) / total
    mean_square = math.fsum(len(g) * (m - grand) ** 2 for g, m in zip(groups, means, strict=True)) / (
        len(groups) - 1
    )
    n0 = (total - sum(len(g) ** 2 for g in groups) / total) / (len(groups) - 1)
    between = (mean_square - variance) / n0
    return math.sqrt(between) if between > 0 else None


def reported_sd(sds: Sequence[float]) -> float:
    """Combine the standard uncertainties that readings report: root of the mean square."""
    return math.sqrt(math.fsum(sd**2 for sd in sds) / len(sds))

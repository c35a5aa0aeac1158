"""What several owners of one kind of bike found, put together: owners differ, and the pooled answer says so.

A random effect: each owner's own best setting scatters about a common one with the standard deviation tau, besides
each answer's own uncertainty.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity

# Under so many owners, their spread cannot be estimated [common practice, no source].
OWNERS_FOR_SPREAD = 3
# A spread that two digits show as nothing, in steps or mm.
_NO_SPREAD = 0.01


class TauMethod(StrEnum):
    """How the spread between owners is estimated."""

    DERSIMONIAN_LAIRD = "DerSimonian-Laird"
    REML = "REML"


@dataclass(frozen=True)
class OwnerResult:
    """One owner's setting for one load; nothing personal.

    Attributes
    ----------
    owner : str
        A label that distinguishes owners.
    load_n : float
        Sprung load of this end, N.
    setting_steps : Quantity
        Preload count or mm, the same for all owners, with its uncertainty above zero.
    """

    owner: str
    load_n: float
    setting_steps: Quantity


@dataclass(frozen=True)
class Pooled:
    """A pooled setting.

    Attributes
    ----------
    setting_steps : Quantity
        Common mean and its standard uncertainty.
    owners : int
    tau : float or None
        Spread between owners, in the unit of the setting; None for one owner.
    heterogeneity_percent : float or None
        I²: share of the scatter that is not the answers' own uncertainty.
    q : float or None
        Cochran's Q.
    mean_interval : tuple of 2 floats, or None
        95 % interval of the common mean (Knapp-Hartung: Student's t, k - 1 degrees of freedom; never narrower
        than the answers' own uncertainties make it, or owners who agree by chance would know it exactly).
    next_owner_interval : tuple of 2 floats, or None
        95 % interval of one more owner's best setting (Student's t, k - 2 degrees of freedom); from three
        owners on.
    trust : str
        How far to trust it, in a sentence.
    load_n : float or None
        Mean load of the results, N, where they were pooled by load.
    """

    setting_steps: Quantity
    owners: int
    tau: float | None
    heterogeneity_percent: float | None
    q: float | None
    mean_interval: tuple[float, float] | None
    next_owner_interval: tuple[float, float] | None
    trust: str
    load_n: float | None = None


def pool(settings: tuple[Quantity, ...], method: TauMethod = TauMethod.REML) -> Pooled:
    """Pool one setting from each of several owners.

    Parameters
    ----------
    settings : tuple of Quantity
        One for each owner.
    method : TauMethod
        DerSimonian and Laird (1986), closed form; or REML.

    Returns
    -------
    Pooled

    Raises
    ------
    SuspensionError
        No setting, a censored one, or one without uncertainty.
    """
    if not settings or any(not one.sigma > 0 or one.at_least or one.at_most for one in settings):
        raise SuspensionError(
            "A setting to pool needs a value and an uncertainty above zero.",
            "Leave out what is only a limit.",
        )
    if len(settings) == 1:
        return Pooled(settings[0], 1, None, None, None, None, None, _trust(1, None, None))
    values, variances = [one.value for one in settings], [one.sigma**2 for one in settings]
    q = _spread_about_mean(values, [1 / v for v in variances])
    moments = _tau2_moments(values, variances, q)
    tau2 = moments if method is TauMethod.DERSIMONIAN_LAIRD else _tau2_reml(values, variances, moments)
    weights = [1 / (v + tau2) for v in variances]
    total = sum(weights)
    mean = sum(w * y for w, y in zip(weights, values, strict=True)) / total
    k = len(settings)
    share = 100 * tau2 / (tau2 + _typical_variance(variances))
    return Pooled(
        setting_steps=Quantity(mean, math.sqrt(1 / total)),
        owners=k,
        tau=math.sqrt(tau2),
        heterogeneity_percent=share,
        q=q,
        # the factor is held at 1 or more: the modification by Roever, Knapp and Friede (2015), from memory
        mean_interval=_interval(
            mean, math.sqrt(max(1.0, _spread_about_mean(values, weights) / (k - 1)) / total), k - 1
        ),
        next_owner_interval=_interval(mean, math.sqrt(tau2 + 1 / total), k - 2) if k > 2 else None,
        trust=_trust(k, math.sqrt(tau2), mean),
    )


def pool_by_load(
    results: tuple[OwnerResult, ...], edges_n: tuple[float, ...], method: TauMethod = TauMethod.REML
) -> tuple[Pooled, ...]:
    """Pool settings by load, one point for each bin that has any.

    Parameters
    ----------
    results : tuple of OwnerResult
        An owner who has several in one bin counts once, with their weighted mean.
    edges_n : tuple of float
        Edges of the bins, N, rising; a load on an edge belongs above it.
    method : TauMethod

    Returns
    -------
    tuple of Pooled
        By rising load.
    """
    if any(b <= a for a, b in itertools.pairwise(edges_n)):
        raise SuspensionError(
            "The edges of the load bins do not rise.", "List them from the lightest on, in N."
        )
    points = []
    for low, high in zip((-math.inf, *edges_n), (*edges_n, math.inf), strict=True):
        inside = [one for one in results if low <= one.load_n < high]
        if not inside:
            continue
        owners: dict[str, list[Quantity]] = {}
        for one in inside:
            owners.setdefault(one.owner, []).append(one.setting_steps)
        pooled = pool(tuple(_of_one_owner(found) for found in owners.values()), method)
        load = sum(one.load_n for one in inside) / len(inside)
        points.append(replace(pooled, load_n=load))
    return tuple(points)


def _of_one_owner(settings: list[Quantity]) -> Quantity:
    weights = [1 / one.sigma**2 for one in settings]
    mean = sum(w * one.value for w, one in zip(weights, settings, strict=True)) / sum(weights)
    return Quantity(mean, math.sqrt(1 / sum(weights)))


def _spread_about_mean(values: list[float], weights: list[float]) -> float:
    mean = sum(w * y for w, y in zip(weights, values, strict=True)) / sum(weights)
    return sum(w * (y - mean) ** 2 for w, y in zip(weights, values, strict=True))


def _tau2_moments(values: list[float], variances: list[float], q: float) -> float:
    """DerSimonian and Laird (1986): max(0, (Q - (k - 1))/(sum w - sum w²/sum w))."""
    weights = [1 / v for v in variances]
    scale = sum(weights) - sum(w**2 for w in weights) / sum(weights)
    return max(0.0, (q - (len(values) - 1)) / scale)


def _tau2_reml(values: list[float], variances: list[float], start: float) -> float:
    """Minimise the restricted likelihood's minus logarithm over tau² >= 0."""
    from scipy.optimize import minimize_scalar

    def minus_log(tau2: float) -> float:
        weights = [1 / (v + tau2) for v in variances]
        spread = _spread_about_mean(values, weights)
        return 0.5 * (spread - sum(math.log(w) for w in weights) + math.log(sum(weights)))

    # No tau can be larger than the whole range of the answers.
    high = max(4 * start, (max(values) - min(values)) ** 2, 1e-12)
    found = minimize_scalar(minus_log, bounds=(0.0, high), method="bounded", options={"xatol": high * 1e-9})
    return float(found.x) if minus_log(float(found.x)) < minus_log(0.0) else 0.0


def _typical_variance(variances: list[float]) -> float:
    """Give the answers' own variance as one number: Higgins and Thompson (2002), eq. 9 (memory)."""
    weights = [1 / v for v in variances]
    return (len(weights) - 1) * sum(weights) / (sum(weights) ** 2 - sum(w**2 for w in weights))


def _interval(mean: float, sd: float, degrees: int) -> tuple[float, float]:
    from scipy.stats import t

    half = float(t.ppf(0.975, degrees)) * sd
    return mean - half, mean + half


def _trust(owners: int, tau: float | None, mean: float | None) -> str:
    if owners == 1:
        return "One owner's setting: a place to start from, no more."
    if owners < OWNERS_FOR_SPREAD or tau is None:
        return f"{owners} owners: too few to show how much owners differ."
    if tau < _NO_SPREAD:
        return (
            f"{owners} owners, who differ no more than their own uncertainties explain: start from the mean."
        )
    return f"{owners} owners, who differ by about {tau:.2g} among themselves: start from the mean and set your own."

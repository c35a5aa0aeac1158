"""Bayesian update of a linear model u = x·theta with exact and censored runs, without sampling.

Exact runs update a Gaussian in closed form. Censored ones multiply it by a factor that depends on theta only
along their own directions x: there the posterior is summed on a grid, in all others it stays Gaussian. The
ride-to-ride scatter is not known: a few values of it are carried side by side, weighted by how well each
explains the runs.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from suspension.advice.censored import log_likelihood, spread_mm
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity

# Grid in units of the Gaussian's own standard deviations, centred on the posterior's mode: the posterior is
# nowhere wider than the Gaussian (a product with log-concave factors), so beyond 6.5 sd less than 1e-9 is left.
_GRID_HALF_WIDTH = 6.5
# Step: the trapezium rule on a product of normal curves is exact to 1e-4 while the step is under 1.2 times the
# narrowest of them; limited by what a grid of as many dimensions may cost.
_STEP_SHARE = 1.0
_COARSEST_STEP = 0.25
_MOST_POINTS = {0: 1, 1: 2001, 2: 401, 3: 81}
_NEGLIGIBLE = 1e-9  # share of the largest weight under which a grid point is dropped
# A grid spans 13 sd, so a bin is under a hundredth of one.
_BINS = 2000


@dataclass(frozen=True, eq=False)
class Component:
    """The posterior for one value of the scatter.

    Attributes
    ----------
    sd_mm : float
        Ride-to-ride scatter.
    mean : ndarray, shape (p,)
        Of the Gaussian part.
    root : ndarray, shape (p, p)
        Its covariance is root @ root.T; the first r columns are the directions of the censored runs.
    points : ndarray, shape (n, r)
        Grid points in units of the root's first r columns.
    weights : ndarray, shape (n,)
        Sum over all components is 1.
    """

    sd_mm: float
    mean: np.ndarray
    root: np.ndarray
    points: np.ndarray
    weights: np.ndarray


@dataclass(frozen=True, eq=False)
class Posterior:
    """Posterior of theta after the runs."""

    components: tuple[Component, ...]

    def mixture(self, x: np.ndarray, with_scatter: bool = True) -> Mixture:
        """Give the posterior of x·theta: of a next ride's reading, or of its mean alone.

        Parameters
        ----------
        x : ndarray, shape (p,)
        with_scatter : bool
            Whether the next ride's own scatter is part of it.
        """
        means, sds, weights = [], [], []
        for part in self.components:
            along = part.root.T @ x
            r = part.points.shape[1]
            rest = float(along[r:] @ along[r:]) + (part.sd_mm**2 if with_scatter else 0.0)
            spots, shares = _gathered(float(part.mean @ x) + part.points @ along[:r], part.weights)
            means.append(spots)
            sds.append(np.full(len(spots), math.sqrt(rest)))
            weights.append(shares)
        return Mixture(np.concatenate(means), np.concatenate(sds), np.concatenate(weights))

    @property
    def mean(self) -> np.ndarray:
        """Mean of theta, shape (p,)."""
        return self._moments()[0]

    @property
    def covariance(self) -> np.ndarray:
        """Covariance of theta, shape (p, p)."""
        return self._moments()[1]

    def _moments(self) -> tuple[np.ndarray, np.ndarray]:
        size = len(self.components[0].mean)
        mean, second = np.zeros(size), np.zeros((size, size))
        for part in self.components:
            r = part.points.shape[1]
            centres = part.mean + part.points @ part.root[:, :r].T
            rest = part.root[:, r:] @ part.root[:, r:].T
            mean = mean + part.weights @ centres
            second = second + (centres * part.weights[:, None]).T @ centres + part.weights.sum() * rest
        return mean, second - np.outer(mean, mean)


@dataclass(frozen=True, eq=False)
class Mixture:
    """A mixture of normal distributions: means, standard deviations and weights, each of shape (n,)."""

    means: np.ndarray
    sds: np.ndarray
    weights: np.ndarray

    @property
    def estimate(self) -> Quantity:
        """Mean and standard deviation of the whole."""
        mean = float(self.weights @ self.means)
        variance = float(self.weights @ (self.sds**2 + (self.means - mean) ** 2))
        return Quantity(mean, math.sqrt(variance))

    def below(self, value: float) -> float:
        """Probability of less than a value."""
        from scipy.special import ndtr

        sds = np.maximum(self.sds, 1e-12)
        return float(self.weights @ ndtr((value - self.means) / sds))

    def quantile(self, probability: float) -> float:
        """Value that is undershot with this probability, 0 < probability < 1."""
        from scipy.optimize import brentq

        if not 0 < probability < 1:
            raise SuspensionError("A probability is not between 0 and 1.", "Ask for one between them.")
        reach = 10 * float(self.sds.max()) + 1e-9
        low, high = float(self.means.min()) - reach, float(self.means.max()) + reach
        return float(brentq(lambda value: self.below(value) - probability, low, high, xtol=1e-6))


def update(
    prior_mean: np.ndarray,
    prior_covariance: np.ndarray,
    designs: np.ndarray,
    readings: tuple[Quantity, ...],
    run_sds_mm: tuple[float, ...],
) -> Posterior:
    """Update a Gaussian prior of theta with runs.

    Parameters
    ----------
    prior_mean : ndarray, shape (p,)
    prior_covariance : ndarray, shape (p, p)
    designs : ndarray, shape (m, p)
        x of each run.
    readings : tuple of m Quantity
        Used stroke of each, mm; exact, at least, or at most.
    run_sds_mm : tuple of float
        Ride-to-ride scatter, mm: values with equal prior weights.

    Returns
    -------
    Posterior

    Raises
    ------
    SuspensionError
        No scatter is given, or runs that nothing can explain.
    """
    if not run_sds_mm:
        raise SuspensionError("No ride-to-ride scatter is given.", "3 to 6 mm is usual.")
    designs = np.asarray(designs, dtype=float).reshape(len(readings), len(prior_mean))
    parts, evidences = [], []
    for sd in run_sds_mm:
        part, log_evidence = _component(prior_mean, prior_covariance, designs, readings, sd)
        parts.append(part)
        evidences.append(log_evidence)
    shares = np.exp(np.array(evidences) - max(evidences))
    if not np.all(np.isfinite(shares)):
        raise SuspensionError("No model explains these runs.", "Check them for typing errors.")
    shares /= shares.sum()
    return Posterior(
        tuple(
            Component(part.sd_mm, part.mean, part.root, part.points, part.weights * share)
            for part, share in zip(parts, shares, strict=True)
        )
    )


def _component(
    mean: np.ndarray, covariance: np.ndarray, designs: np.ndarray, readings: tuple[Quantity, ...], sd: float
) -> tuple[Component, float]:
    log_evidence = 0.0
    for x, reading in zip(designs, readings, strict=True):
        if reading.bound is not Bound.EXACT:
            continue
        gain = covariance @ x
        variance = float(x @ gain) + spread_mm(reading, sd) ** 2
        miss = reading.value - float(x @ mean)
        log_evidence -= 0.5 * (miss**2 / variance + math.log(2 * math.pi * variance))
        mean = mean + gain * (miss / variance)
        covariance = covariance - np.outer(gain, gain) / variance
    limits = [i for i, reading in enumerate(readings) if reading.bound is not Bound.EXACT]
    root, rank = _aligned_root(covariance, designs[limits])
    points, weights, log_share = _grid(mean, root[:, :rank], designs, readings, limits, sd)
    return Component(sd, mean, root, points, weights), log_evidence + log_share


def _aligned_root(covariance: np.ndarray, directions: np.ndarray) -> tuple[np.ndarray, int]:
    """Find a root of the covariance whose first columns span what the directions can see, and how many they are."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    if not len(directions):
        return root, 0
    _, singular, right = np.linalg.svd(directions @ root)
    # Directions along which the censored runs move less than a thousandth of the largest are all one to them.
    rank = int(np.sum(singular > max(1e-3 * singular[0], 1e-9)))
    return root @ right.T, rank


def _grid(
    mean: np.ndarray,
    root: np.ndarray,
    designs: np.ndarray,
    readings: tuple[Quantity, ...],
    limits: list[int],
    sd: float,
) -> tuple[np.ndarray, np.ndarray, float]:
    """Points, weights that sum to 1, and the logarithm of what the limits make of the Gaussian's whole."""
    rank = root.shape[1]
    if not limits:
        return np.zeros((1, 0)), np.ones(1), 0.0
    slopes = designs[limits] @ root  # (m, r)
    offsets = designs[limits] @ mean
    chosen = [readings[i] for i in limits]

    def log_density(points: np.ndarray) -> np.ndarray:
        total: np.ndarray = -0.5 * np.sum(points**2, axis=-1) - 0.5 * rank * math.log(2 * math.pi)
        for slope, offset, reading in zip(slopes, offsets, chosen, strict=True):
            total = total + log_likelihood(reading, offset + points @ slope, sd)
        return total

    if rank == 0:
        return np.zeros((1, 0)), np.ones(1), float(log_density(np.zeros((1, 0)))[0])
    steepest = max(
        float(np.linalg.norm(slope)) / spread_mm(reading, sd)
        for slope, reading in zip(slopes, chosen, strict=True)
    )
    step = min(_COARSEST_STEP, _STEP_SHARE / max(steepest, 1e-9))
    step = max(step, 2 * _GRID_HALF_WIDTH / _MOST_POINTS[min(rank, 3)])
    axis = np.arange(-_GRID_HALF_WIDTH, _GRID_HALF_WIDTH + step / 2, step)
    centre = _mode(log_density, rank)
    points = centre + np.stack(np.meshgrid(*([axis] * rank), indexing="ij"), axis=-1).reshape(-1, rank)
    logs = log_density(points)
    top = float(logs.max())
    weights = np.exp(logs - top)
    log_share = top + math.log(float(weights.sum())) + rank * math.log(step)
    kept = weights > _NEGLIGIBLE
    return points[kept], weights[kept] / weights[kept].sum(), log_share


def _gathered(means: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Gather many points into bins, each at its own mean, where there are more than any quantile needs."""
    if len(means) <= _BINS:
        return means, weights
    edges = np.linspace(means.min(), means.max(), _BINS + 1)
    bins = np.clip(np.searchsorted(edges, means, side="right") - 1, 0, _BINS - 1)
    shares = np.bincount(bins, weights, _BINS)
    kept = shares > 0
    return np.bincount(bins, weights * means, _BINS)[kept] / shares[kept], shares[kept]


def _mode(log_density: Callable[[np.ndarray], np.ndarray], rank: int) -> np.ndarray:
    """Where the log-concave density is highest."""
    from scipy.optimize import minimize

    found = minimize(lambda z: -float(log_density(z[None, :])[0]), np.zeros(rank), method="BFGS")
    return np.asarray(found.x, dtype=float)

"""How hard a route hits an end: the load factor of its rides, its scatter, and the chance of reaching a stroke.

A ride's deepest point u is where the springs carry lambda times the sprung load (quasi-static): lambda = F(u)/Ws.
Every reading is turned into the load factor that explains it, by the force at its depth alone, so that no balance
has to be solved, and bumper, air, tables and a rising motion ratio are taken as they are. What is estimated is the
mean of lambda over a route, its ride-to-ride scatter as a share of lambda, and how far preload and load move the
depth in fact. The posterior is summed on a grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from suspension.advice.force_curve import ForceCurve, RideAt
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity

if TYPE_CHECKING:
    import numpy as np

# Load factor at a ride's deepest point before any ride [common practice, no source], and its smoothed edges: spring
# rate, ratio and sprung load of a bike's file are together right to some 6 %.
LOAD_FACTOR_RANGE = (1.5, 2.5)
EDGE_RELATIVE_SIGMA = 0.06
# Share of the prior that does not believe the bike's file: a wrong rate or ratio must not outvote the rides.
WRONG_FILE_SHARE = 0.05
# Relative ride-to-ride scatter of the load factor: density 1/s over these, as for a scale of which nothing is known
# (Jeffreys). A loop's hardest hit varies by 5 to 15 %; the range goes past both ends, or three runs would state
# intervals that hold 98 times in 100 at 5 % and 84 at 15 % (docs/measured.md).
SCATTER_RANGE = (0.02, 0.25)
# Effect of a mm of preload, and of a newton of load, relative to what the springs' numbers say
# [common practice, no source]: mean 1.
PRELOAD_EFFECT_SIGMA = 0.3
LOAD_EFFECT_SIGMA = 0.4

_MEANS, _SCATTERS, _EFFECTS, _LOAD_EFFECTS = 241, 10, 7, 5
# The grid of means reaches so far beyond the smallest and largest load factor observed.
_REACH = 2.0
# Step of the slope of the force, mm: small against any stroke, large against rounding.
_SLOPE_STEP_MM = 0.01
# Where less than this lies above the rider-aboard compression, the grid's point has no weight that matters.
_SMALLEST_SHARE = 1e-6


@dataclass(frozen=True, eq=False)
class Severity:
    """What the rides over one route say of it.

    Attributes
    ----------
    curve : ForceCurve
    rides : tuple of RideAt
        Of one route, comparable in all but preload and load.
    reference_mm, reference_n : float
        Preload and sprung load at which the effects of preload and load do not matter: where it was ridden last,
        or will be.
    """

    curve: ForceCurve
    rides: tuple[RideAt, ...]
    reference_mm: float
    reference_n: float = 1.0
    load_factors: tuple[float, float] = field(default=LOAD_FACTOR_RANGE)
    least_mm: float | None = None

    def __post_init__(self) -> None:
        if not self.curve.has_rates and not any(one.used_mm.bound is Bound.EXACT for one in self.rides):
            raise SuspensionError(
                "No ride gave a length, and the springs are not known.",
                "Ride once and read the marker, or give spring rate, motion ratio and load.",
            )

    def chance_of_reaching(self, stroke_mm: float, preload_mm: float, load_n: float | None = None) -> float:
        """Probability that the next ride goes to a stroke or beyond it.

        Parameters
        ----------
        stroke_mm : float
        preload_mm : float
            d of the next ride.
        load_n : float, optional
            Its sprung load; the reference's where not given.
        """
        if stroke_mm > self.curve.stroke_mm:
            return 0.0
        load = self.reference_n if load_n is None else load_n
        return float((self._weights * self._chances(stroke_mm, preload_mm, load)).sum())

    def certainty_of(self, allowed: float, stroke_mm: float, preload_mm: float) -> float:
        """How sure it is that a stroke is reached in no more than an allowed share of rides: 0 to 1.

        Parameters
        ----------
        allowed : float
            Share of rides.
        stroke_mm, preload_mm : float
        """
        chances = self._chances(stroke_mm, preload_mm, self.reference_n)
        return float((self._weights * (chances <= allowed)).sum())

    def _chances(self, stroke_mm: float, preload_mm: float, load_n: float) -> np.ndarray:
        """Share of rides that reach a stroke, for each point of the grid; cut at the rider-aboard compression."""
        import numpy as np

        reached = self._shares_beyond(stroke_mm, preload_mm, load_n)
        if self.least_mm is None:
            return reached
        least = self.least_mm - (preload_mm - self.reference_mm)
        if stroke_mm <= least:
            return np.ones_like(reached)
        beyond = self._shares_beyond(max(0.0, least), preload_mm, load_n)
        found: np.ndarray = reached / np.maximum(beyond, _SMALLEST_SHARE)
        return found

    def _shares_beyond(self, stroke_mm: float, preload_mm: float, load_n: float) -> np.ndarray:
        from scipy.special import ndtr

        limits = self._factors(stroke_mm, preload_mm, load_n)
        shares: np.ndarray = ndtr((self._mean - limits[None, None, :]) / (self._scatter * self._mean))
        return shares

    def stroke_at(self, probability: float, preload_mm: float, load_n: float | None = None) -> float:
        """Stroke that the next ride stays under with a probability, mm; never under 0 nor over S."""
        from scipy.optimize import brentq

        if not 0 < probability < 1:
            raise SuspensionError("A probability is not between 0 and 1.", "Ask for one between them.")

        def excess(stroke: float) -> float:
            return 1 - probability - self.chance_of_reaching(stroke, preload_mm, load_n)

        end = self.curve.stroke_mm
        if excess(0.0) >= 0:
            return 0.0
        if excess(end) <= 0:
            return end
        return float(brentq(excess, 0.0, end, xtol=1e-3))

    @property
    def scatter(self) -> Quantity:
        """Relative ride-to-ride scatter of the load factor."""
        return _moments(self._scatter, self._weights)

    @property
    def load_factor(self) -> Quantity:
        """Mean load factor of the route at the reference; mm of spring compression without rates."""
        return _moments(self._mean, self._weights)

    @property
    def preload_effect(self) -> Quantity:
        """Effect of preload relative to what the springs' numbers say."""
        import numpy as np

        effects = np.array([effect for effect, _, _ in self._nodes])
        return _moments(effects[None, None, :], self._weights)

    @property
    def contradicts_file(self) -> bool:
        """Whether the rides lie where the prior that believes the bike's file has next to nothing.

        The posterior share of the prior's part that does not believe it is over 0.95 [a choice].
        """
        if not self.curve.has_rates or not self.rides:
            return False
        believing, doubting = self._parts
        return float(doubting / (believing + doubting)) > 0.95

    # --- the grid: means x scatters x nodes of the effects

    @cached_property
    def _nodes(self) -> tuple[tuple[float, float, float], ...]:
        """Effect of preload, effect of load, weight: Gauss-Hermite nodes about 1."""
        import numpy as np

        def nodes(number: int, sigma: float) -> list[tuple[float, float]]:
            x, weight = np.polynomial.hermite_e.hermegauss(number)
            found = [(max(0.05, 1 + sigma * float(a)), float(w)) for a, w in zip(x, weight, strict=True)]
            total = sum(w for _, w in found)
            return [(a, w / total) for a, w in found]

        same = all(abs(one.sprung_load_n - self.reference_n) < 1e-9 for one in self.rides)
        loads = [(1.0, 1.0)] if same else nodes(_LOAD_EFFECTS, LOAD_EFFECT_SIGMA)
        return tuple((b, g, v * w) for b, v in nodes(_EFFECTS, PRELOAD_EFFECT_SIGMA) for g, w in loads)

    def _factors(self, stroke_mm: float, preload_mm: float, load_n: float) -> np.ndarray:
        """Load factor that takes the end to a stroke, for each node."""
        import numpy as np

        out = []
        for effect, load_effect, _ in self._nodes:
            preload = self.reference_mm + effect * (preload_mm - self.reference_mm)
            load = self.reference_n + load_effect * (load_n - self.reference_n)
            out.append(self.curve.force_n(stroke_mm, preload) / max(load, 0.05 * self.reference_n))
        return np.array(out)

    @cached_property
    def _observed(self) -> list[tuple[np.ndarray, np.ndarray, Quantity]]:
        """Load factor of each ride for each node, its slope over the stroke (1/mm), and the reading itself."""
        found = []
        for one in self.rides:
            at = (one.preload_mm, one.sprung_load_n)
            middle = self._factors(one.used_mm.value, *at)
            slope = (self._factors(one.used_mm.value + _SLOPE_STEP_MM, *at) - middle) / _SLOPE_STEP_MM
            found.append((middle, slope, one.used_mm))
        return found

    @cached_property
    def _axes(self) -> tuple[np.ndarray, np.ndarray]:
        import numpy as np

        seen = [float(x) for middle, _, _ in self._observed for x in (middle.min(), middle.max())]
        if self.curve.has_rates:
            seen += [self.load_factors[0] / 1.25, self.load_factors[1] * 1.25]
        low, high = max(min(seen), 1e-6) / _REACH, max(seen) * _REACH
        means = np.exp(np.linspace(math.log(low), math.log(high), _MEANS))
        scatters = np.exp(np.linspace(math.log(SCATTER_RANGE[0]), math.log(SCATTER_RANGE[1]), _SCATTERS))
        return means, scatters

    @cached_property
    def _mean(self) -> np.ndarray:
        return self._axes[0][:, None, None]

    @cached_property
    def _scatter(self) -> np.ndarray:
        return self._axes[1][None, :, None]

    def _priors(self) -> tuple[np.ndarray, np.ndarray]:
        """Density per step of the logarithmic grid, of the part that believes the bike's file and of the other."""
        import numpy as np
        from scipy.special import ndtr

        means = self._mean
        flat = np.full_like(means, 1.0 / (math.log(self._axes[0][-1] / self._axes[0][0])))
        if not self.curve.has_rates:
            return np.zeros_like(means), flat
        low, high = self.load_factors
        edge = EDGE_RELATIVE_SIGMA * (low + high) / 2
        believing = means * (ndtr((means - low) / edge) - ndtr((means - high) / edge)) / (high - low)
        return (1 - WRONG_FILE_SHARE) * believing, WRONG_FILE_SHARE * flat

    @cached_property
    def _log_likelihood(self) -> np.ndarray:
        import numpy as np
        from scipy.special import log_ndtr

        total = np.zeros((_MEANS, _SCATTERS, len(self._nodes)))
        for observed, slope, used in self._observed:
            spread = np.hypot(self._scatter * self._mean, slope[None, None, :] * used.sigma)
            z = (observed[None, None, :] - self._mean) / spread
            if used.bound is Bound.AT_LEAST:
                total = total + log_ndtr(-z)
            elif used.bound is Bound.AT_MOST:
                total = total + log_ndtr(z)
            else:
                # A density per mm of stroke, the same for every node: hence the slope.
                total = total - 0.5 * z**2 - np.log(spread / slope[None, None, :])
        return total

    @cached_property
    def _unnormalised(self) -> tuple[np.ndarray, np.ndarray]:
        import numpy as np

        weights = np.array([w for _, _, w in self._nodes])[None, None, :]
        likelihood = np.exp(self._log_likelihood - self._log_likelihood.max()) * weights
        believing, doubting = self._priors()
        return believing * likelihood, doubting * likelihood

    @cached_property
    def _parts(self) -> tuple[float, float]:
        believing, doubting = self._unnormalised
        return float(believing.sum()), float(doubting.sum())

    @cached_property
    def _weights(self) -> np.ndarray:
        both = self._unnormalised[0] + self._unnormalised[1]
        total = float(both.sum())
        if not total > 0:
            raise SuspensionError("No model explains these runs.", "Look for a typing error among them.")
        found: np.ndarray = both / total
        return found


def _moments(values: np.ndarray, weights: np.ndarray) -> Quantity:
    mean = float((values * weights).sum())
    return Quantity(mean, math.sqrt(max(0.0, float(((values - mean) ** 2 * weights).sum()))))

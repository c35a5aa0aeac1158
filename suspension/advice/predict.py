"""The next ride's deepest point, from physics and from the rides measured so far.

u = a_route + B (change of preload) + G (change of load) + scatter, with Gaussian priors from the physics. Peaks are
extreme values, so only equal loops are compared.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from suspension.advice.posterior import Mixture, Posterior, update
from suspension.advice.prior import RidePrior
from suspension.quantities.quantity import Bound, Quantity
from suspension.springs.adjuster import Adjuster, AdjusterKind

# Ride-to-ride scatter of the deepest point on one loop, mm [common practice, no source]: equal prior weights.
RIDE_SDS_MM = (3.0, 4.0, 5.0, 6.0)
# Under so many runs the prediction is a rough estimate, mostly from the prior [common practice, no source].
RUNS_TO_COUNT = 3
# Predicted at most so many clicks from a count that was ridden [common practice, no source]; of turns and ramp
# positions, which a piece of advice moves half as far at once, half as many.
MOST_CLICKS_BEYOND = 4
# "Nothing is known": a standard deviation that no stroke in mm, and no effect in mm/N, comes near. Shocks on
# linkages move about 0.04 mm/N, forks about 0.1 mm/N.
_FLAT_MM, _FLAT_MM_PER_N = 1000.0, 1.0


@dataclass(frozen=True)
class Run:
    """One ride of one load case over one route, as the deeper leg read it.

    Attributes
    ----------
    route : str
    count : float
        Preload count up from the soft end.
    used_mm : Quantity
        u; a censored one is kept as a limit.
    sprung_load_n : float or None
        Ws; None where it was not weighed.
    load_case : str
        Distinguishes runs of one load from others where nothing was weighed.
    """

    route: str
    count: float
    used_mm: Quantity
    sprung_load_n: float | None = None
    load_case: str = ""


@dataclass(frozen=True)
class RideCase:
    """What is ridden: a route with a load. Fields as in `Run`."""

    route: str
    sprung_load_n: float | None = None
    load_case: str = ""


@dataclass(frozen=True)
class ModelInputs:
    """What is known apart from the rides.

    Attributes
    ----------
    adjuster : Adjuster
        Turns counts into mm. Without mm per step only a count that was ridden is answered.
    prior : RidePrior
        From `prior.physical_prior`; the default where the spring rate is not known: then the runs alone.
    preload_at_soft_mm : float or None
        d0; None where not known, and then the physics has no place to start from either.
    ride_sds_mm : tuple of float
        Values of the ride-to-ride scatter, mm.
    """

    adjuster: Adjuster
    prior: RidePrior = field(default_factory=RidePrior)
    preload_at_soft_mm: float | None = None
    ride_sds_mm: tuple[float, ...] = RIDE_SDS_MM

    @property
    def knows_mm(self) -> bool:
        """Whether the mm per step are known."""
        return self.adjuster.step_mm is not None or bool(self.adjuster.positions_mm)


@dataclass(frozen=True, eq=False)
class Prediction:
    """What the next ride will read.

    Attributes
    ----------
    mean_mm : float or None
        None where it is withheld.
    low_mm, high_mm : float or None
        Ends of the 90 % interval, of the next ride and not of its mean.
    runs : int
        Runs of the same route that it rests on, censored ones included.
    mostly_prior : bool
        Under three runs.
    mixture : Mixture or None
        The whole distribution: `mixture.below(Sb)` is the chance of staying clear of the bumper.
    per_preload : Quantity or None
        B after the runs, mm/mm.
    withheld : str or None
        Why there is no prediction.
    remarks : tuple of str
    """

    mean_mm: float | None = None
    low_mm: float | None = None
    high_mm: float | None = None
    runs: int = 0
    mostly_prior: bool = True
    mixture: Mixture | None = None
    per_preload: Quantity | None = None
    withheld: str | None = None
    remarks: tuple[str, ...] = field(default=())


class RideModel:
    """What the rides of one route and load say, at any count: theta = (a, B, G) about a reference.

    Parameters
    ----------
    runs : tuple of Run
    case : RideCase
    inputs : ModelInputs

    Attributes
    ----------
    runs : tuple of Run
        Those of the route (and, where not all were weighed, of the load case).
    remarks : tuple of str
        What was left out, and why.
    """

    def __init__(self, runs: tuple[Run, ...], case: RideCase, inputs: ModelInputs) -> None:
        self.case, self.inputs = case, inputs
        self.runs, self.remarks, self.weighed = _comparable(runs, case)
        prior = inputs.prior
        self.with_physics = (
            prior.used_mm is not None
            and case.sprung_load_n is not None
            and inputs.preload_at_soft_mm is not None
            and inputs.knows_mm
        )
        self.reference_mm = (prior.preload_mm or 0.0) if self.with_physics else 0.0
        self._posteriors: dict[tuple[Run, ...], Posterior] = {}
        self.reference_n = prior.load_n if self.with_physics else case.sprung_load_n

    def predict(self, count: float) -> Prediction:
        """Predict the next ride at a count; withheld outside the loads measured, or far from every count."""
        runs, remarks = self.at(count)
        reason = self.why_withheld(count)
        if reason is not None:
            return Prediction(runs=len(runs), withheld=reason, remarks=remarks)
        posterior = self.posterior(runs)
        mixture = posterior.mixture(self.design(count, self.case.sprung_load_n))
        few = len(runs) < RUNS_TO_COUNT
        if few:
            remarks = (
                *remarks,
                f"Rough estimate: it rests on {_runs(len(runs))}; {RUNS_TO_COUNT} or more are needed.",
            )
        slope = posterior.mixture(np.array([0.0, 1.0, 0.0]), with_scatter=False).estimate
        return Prediction(
            mean_mm=mixture.estimate.value,
            low_mm=mixture.quantile(0.05),
            high_mm=mixture.quantile(0.95),
            runs=len(runs),
            mostly_prior=few,
            mixture=mixture,
            per_preload=slope if self.inputs.knows_mm else None,
            remarks=remarks,
        )

    def at(self, count: float) -> tuple[tuple[Run, ...], tuple[str, ...]]:
        """Choose the runs that a count can be answered from: all, or without mm those at the count itself."""
        if self.inputs.knows_mm:
            return self.runs, self.remarks
        same = tuple(run for run in self.runs if run.count == count)
        left_out = len(self.runs) - len(same)
        if not left_out:
            return same, self.remarks
        words = f"{_runs(left_out)} at other counts left out: the mm per step are not known."
        return same, (*self.remarks, words)

    def why_withheld(self, count: float) -> str | None:
        """Why a count has no prediction; None where it has one."""
        runs, _ = self.at(count)
        if not self.with_physics and not any(run.used_mm.bound is Bound.EXACT for run in runs):
            return (
                "No prediction: no ride of this route and load gave a length that applies to this count, and "
                "the physics cannot start without spring rate, motion ratio, preload and load."
            )
        if not runs:
            return None
        kind = self.inputs.adjuster.kind
        most = MOST_CLICKS_BEYOND if kind is AdjusterKind.CLICKS else MOST_CLICKS_BEYOND // 2
        counts = [run.count for run in runs]
        beyond = max(min(counts) - count, count - max(counts))
        if beyond > most:
            return (
                f"No prediction: {count:g} is {kind.some(beyond)} from the nearest count that was ridden, "
                f"and more than {most} would be a guess. Go there in steps."
            )
        if self.weighed and self.case.sprung_load_n is not None:
            loads = [run.sprung_load_n for run in runs if run.sprung_load_n is not None]
            # a newton is below the resolution of any scales
            if not min(loads) - 1.0 <= self.case.sprung_load_n <= max(loads) + 1.0:
                return (
                    "No prediction: this load lies outside the loads that were ridden. Start from its own sag "
                    "and preload, and ride once."
                )
        return None

    def posterior(self, runs: tuple[Run, ...]) -> Posterior:
        """Update the prior with these runs."""
        if runs not in self._posteriors:
            self._posteriors[runs] = self._update(runs)
        return self._posteriors[runs]

    def _update(self, runs: tuple[Run, ...]) -> Posterior:
        prior = self.inputs.prior
        start = prior.used_mm if self.with_physics and prior.used_mm is not None else _flat_start(runs)
        priors = (start, prior.per_preload, prior.per_load or Quantity(0.0, _FLAT_MM_PER_N))
        return update(
            np.array([one.value for one in priors]),
            np.diag([one.sigma**2 for one in priors]),
            np.array([self.design(run.count, run.sprung_load_n) for run in runs]).reshape(-1, 3),
            tuple(run.used_mm for run in runs),
            self.inputs.ride_sds_mm,
        )

    def design(self, count: float, load_n: float | None) -> np.ndarray:
        """x of a ride: 1, change of preload in mm, change of load in N."""
        # Where not all were weighed, the runs kept are all of the load that is asked for.
        load = load_n if self.weighed else self.case.sprung_load_n
        change_n = 0.0 if load is None or self.reference_n is None else load - self.reference_n
        added = self.inputs.adjuster.added_mm(count) if self.inputs.knows_mm else 0.0
        assert added is not None
        return np.array([1.0, (self.inputs.preload_at_soft_mm or 0.0) + added - self.reference_mm, change_n])


def _comparable(runs: tuple[Run, ...], case: RideCase) -> tuple[tuple[Run, ...], tuple[str, ...], bool]:
    """Choose runs of the same loop, and of the same load case unless all were weighed; and say whether all were."""
    chosen = tuple(run for run in runs if run.route == case.route)
    remarks = []
    if len(chosen) < len(runs):
        remarks.append(f"{_runs(len(runs) - len(chosen))} of other routes left out: peaks differ by route.")
    weighed = case.sprung_load_n is not None and all(run.sprung_load_n is not None for run in chosen)
    if not weighed:
        same = tuple(run for run in chosen if run.load_case == case.load_case)
        if len(same) < len(chosen):
            remarks.append(f"{_runs(len(chosen) - len(same))} of other loads left out: not all were weighed.")
        chosen = same
    return chosen, tuple(remarks), weighed


def _flat_start(runs: tuple[Run, ...]) -> Quantity:
    """Make a flat prior of the deepest point, placed where the runs lie so that rounding does not matter."""
    exact = [run.used_mm.value for run in runs if run.used_mm.bound is Bound.EXACT]
    return Quantity(sum(exact) / len(exact), _FLAT_MM)


def _runs(number: int) -> str:
    return f"{number} run" + ("" if number == 1 else "s")

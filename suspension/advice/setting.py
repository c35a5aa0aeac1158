"""The preload count for a load: from rides of that load, or before the first one from its statics."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.advice.predict import RideModel
from suspension.advice.prior import PEAK_LOAD_RANGE
from suspension.springs.adjuster import Adjuster


@dataclass(frozen=True)
class SettingForLoad:
    """A recommended count with the interval behind it.

    Attributes
    ----------
    count : float or None
        The softest count at which the ride's expected deepest point is no deeper than the target; None where
        no count in reach is firm enough, or nothing can be said.
    low, high : float or None
        Softest counts at which that is so with 5 % and with 95 % probability; None where out of reach.
    runs : int
        Rides that it rests on.
    measured : bool
        From rides of this load; else worked out from statics alone.
    words : str
    """

    count: float | None
    low: float | None
    high: float | None
    runs: int
    measured: bool
    words: str


def setting_from_rides(model: RideModel, target_mm: float) -> SettingForLoad:
    """Find the count for a target, among the counts that may be predicted.

    Parameters
    ----------
    model : RideModel
    target_mm : float
        Deepest point to aim at, mm of stroke: see `advise.target_mm`.
    """
    reachable = [count for count in _counts(model) if model.why_withheld(count) is None]
    runs = model.runs
    if not reachable or not runs:
        return SettingForLoad(None, None, None, len(runs), True, "No ride of this load says enough yet.")
    count, low, high = (_softest(model, reachable, target_mm, chance) for chance in (0.5, 0.05, 0.95))
    kind = model.inputs.adjuster.kind
    if count is None:
        words = f"No count up to {kind.place(reachable[-1])} is firm enough, by what was ridden so far."
    else:
        words = f"{kind.place(count).capitalize()}, by {len(runs)} rides of this load and route."
    return SettingForLoad(count, low, high, len(runs), True, words)


@dataclass(frozen=True)
class EqualSprings:
    """Linear springs of one rate that work side by side through one motion ratio.

    Attributes
    ----------
    legs : int
        n.
    rate_n_per_mm : float
        k of each.
    ratio : float
        MR where the end stands.

    Examples
    --------
    Ws 1500 N on two springs of 20 N/mm, MR 0.8 and 10 mm of preload rest at 36.875 mm of stroke:

    >>> 1500 * EqualSprings(2, 20.0, 0.8).stroke_mm_per_n - 10
    36.875
    """

    legs: int
    rate_n_per_mm: float
    ratio: float

    @property
    def stroke_mm_per_n(self) -> float:
        """Stroke for each newton of sprung load: 1/(n k MR) [handbook]."""
        return 1 / (self.legs * self.rate_n_per_mm * self.ratio)


def setting_from_statics(
    count: float,
    added_load_n: float,
    springs: EqualSprings,
    adjuster: Adjuster,
    peak_load: tuple[float, float] = PEAK_LOAD_RANGE,
) -> SettingForLoad | None:
    """Give a first count for a load that was never ridden, from the count of one that was [derived].

    Added preload of dW/(n k MR) keeps the sag; lam times as much would keep the ride's deepest point. The
    first is given, for it is sure; the second is the upper end.

    Parameters
    ----------
    count : float
        Count that suits the load that was ridden, up from the soft end.
    added_load_n : float
        What the springs carry more now, N (negative for less).
    springs : EqualSprings
    adjuster : Adjuster
    peak_load : tuple of float
        Range of lam.

    Returns
    -------
    SettingForLoad or None
        None where the mm per step are not known.
    """
    if adjuster.step_mm is None:
        return None
    steps = added_load_n * springs.stroke_mm_per_n / adjuster.step_mm
    wanted = math.ceil(count + steps - 1e-9)  # to the firmer side: a quiet ride is no loss, a bottomed one is
    reached = adjuster.clipped(wanted)
    ends = sorted(adjuster.clipped(count + factor * steps) for factor in (1.0, peak_load[1]))
    words = (
        f"{adjuster.kind.place(reached).capitalize()} to begin with, worked out from the load alone and "
        "not yet ridden."
    )
    if reached != wanted:
        words += " The adjuster ends there: less load, or another spring, is what this load needs."
    return SettingForLoad(reached, ends[0], ends[1], 0, False, words)


def _counts(model: RideModel) -> list[float]:
    """Whole counts between the adjuster's ends; without a known hard end, as far as a prediction may go."""
    adjuster = model.inputs.adjuster
    ridden = [run.count for run in model.runs]
    if not ridden:
        return []
    end = adjuster.end if adjuster.end is not None else max(ridden) + 4
    return [adjuster.first + i for i in range(int(end - adjuster.first) + 1)]


def _softest(model: RideModel, counts: list[float], target_mm: float, chance: float) -> float | None:
    for count in counts:
        runs, _ = model.at(count)
        route_mean = model.posterior(runs).mixture(
            model.design(count, model.case.sprung_load_n), with_scatter=False
        )
        if route_mean.below(target_mm) >= chance:
            return count
    return None

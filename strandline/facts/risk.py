"""What the rides of a load say of the next one, route by route: from rides and the bike's file to `Severity`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from ridelog.names import End
from strandline.facts.ends import EndFacts
from strandline.facts.rides import BikeLog, EndRide
from suspension.advice.force_curve import ForceCurve, RideAt
from suspension.advice.severity import Severity
from suspension.advice.step import CHANCE_ALLOWED
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.springs.equilibrium import LONGEST_STROKE_MM
from suspension.stroke.verdict import reference_bumper_mm


@dataclass(frozen=True)
class Forecast:
    """The next ride's deepest point at a count.

    Attributes
    ----------
    mid_mm, low_mm, high_mm : float
        Median, and the ends of the 90 % interval.
    scatter_mm : float
        Ride-to-ride standard deviation, as learnt so far.
    runs : int
        Over the worst route, that it rests on.
    """

    mid_mm: float
    low_mm: float
    high_mm: float
    scatter_mm: float
    runs: int


@dataclass(frozen=True)
class Run:
    """A ride that counts.

    Attributes
    ----------
    route : str
        Folded.
    load : str
    count : float
        Up from the soft end.
    used_mm : Quantity
    sprung_n : float or None
    """

    route: str
    load: str
    count: float
    used_mm: Quantity
    sprung_n: float | None


def runs_of(rides: Sequence[EndRide], log: BikeLog, end: End) -> tuple[Run, ...]:
    """Rides that a forecast can use: a count that is sure, and a used stroke."""
    found = []
    for one in rides:
        if one.used_mm is None or one.up is None or not one.count.is_sure:
            continue
        sprung = log.load_of(one.ride).sprung_n(log.bike, end)
        found.append(Run(one.route, one.load, one.up, one.used_mm, None if sprung is None else sprung.value))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class RiskModel:
    """The rides of one end, as they bear on one load.

    Attributes
    ----------
    facts : EndFacts
    load : str
    sprung_n : float or None
        Ws with this load.
    runs : tuple of Run
        Of all loads; those of another load count only where all were weighed and the springs are known.
    now : float or None
        The count that counts are reckoned about.
    least_mm : float or None
        Compression with the rider aboard at that count.
    """

    facts: EndFacts
    load: str
    sprung_n: float | None
    runs: tuple[Run, ...]
    now: float | None
    least_mm: float | None = None

    @property
    def bumper_mm(self) -> float | None:
        """Where the bumper is met, measured or 0.92 S."""
        return reference_bumper_mm(self.facts.bumper_met_mm, self.facts.hard_stop_mm)

    @cached_property
    def knows_steps(self) -> bool:
        """Whether a step is worth a known number of mm."""
        adjuster = self.facts.adjuster
        return adjuster is not None and (adjuster.step_mm is not None or bool(adjuster.positions_mm))

    def preload_mm(self, count: float) -> float:
        """Preload at a count, mm; from the soft end where the preload there is not known, 0 where steps are not."""
        if not self.knows_steps or self.facts.adjuster is None:
            return 0.0
        return (self.facts.preload_at_soft_mm or 0.0) + (self.facts.adjuster.added_mm(count) or 0.0)

    @cached_property
    def curve(self) -> ForceCurve:
        """Forces over the stroke where springs, preload and load are known; else linear springs of unknown rate."""
        facts = self.facts
        stroke = facts.hard_stop_mm or LONGEST_STROKE_MM
        known = (
            facts.forces is not None and facts.preload_at_soft_mm is not None and self.sprung_n is not None
        )
        if not known or facts.forces is None or not self.knows_steps or facts.hard_stop_mm is None:
            return ForceCurve.by_depth(stroke)
        curve = ForceCurve.of_end(facts.forces, stroke)
        try:
            curve.force_n(stroke, self.preload_mm(self.facts.adjuster.first if self.facts.adjuster else 0.0))
            adjuster = facts.adjuster
            if adjuster is not None and adjuster.end is not None:
                curve.force_n(stroke, self.preload_mm(adjuster.end))
        except SuspensionError:
            return ForceCurve.by_depth(stroke)  # a table that ends before the stroke: then the rides alone
        return curve

    def usable(self, route: str) -> tuple[Run, ...]:
        """List the runs over a route that bear on this load."""
        same = [run for run in self.runs if run.route == route]
        if not self.curve.has_rates or any(run.sprung_n is None for run in same):
            same = [run for run in same if run.load == self.load]
        if not self.knows_steps:
            same = [run for run in same if run.count == self.now]
        return tuple(same)

    def severity(self, route: str) -> Severity | None:
        """Put together what the rides over a route say; None where they and the bike's file say nothing."""
        if self.now is None:
            return None
        load = self.sprung_n if self.curve.has_rates and self.sprung_n is not None else 1.0
        rides = tuple(
            RideAt(
                run.used_mm,
                self.preload_mm(run.count),
                run.sprung_n if self.curve.has_rates and run.sprung_n is not None else load,
            )
            for run in self.usable(route)
        )
        try:
            return Severity(self.curve, rides, self.preload_mm(self.now), load, least_mm=self.least_mm)
        except SuspensionError:
            return None

    @cached_property
    def worst_route(self) -> str:
        """The route of this load that hits this end hardest; where rides were only "at least", that one.

        By a standard deviation under the mean load factor: one ride over another loop is no proof that it is worse.
        """
        own = list(dict.fromkeys(run.route for run in self.runs if run.load == self.load))

        def hardness(route: str) -> float:
            found = self.severity(route)
            return float("inf") if found is None else found.load_factor.value - found.load_factor.sigma

        return max(own, key=hardness, default="")

    @cached_property
    def worst(self) -> Severity | None:
        """What the rides over the worst route say."""
        return self.severity(self.worst_route)

    def _answers(self, count: float) -> bool:
        return self.knows_steps or count == self.now

    def chance(self, count: float) -> float | None:
        """Chance that the next ride over the worst route reaches the bumper; None where nothing tells."""
        if self.worst is None or self.bumper_mm is None or not self._answers(count):
            return None
        return self.worst.chance_of_reaching(self.bumper_mm, self.preload_mm(count))

    def certainty(self, count: float) -> float:
        """How sure it is that the bumper is met in one ride of ten at most at a count."""
        if self.worst is None or self.bumper_mm is None or not self._answers(count):
            return 0.0
        return self.worst.certainty_of(CHANCE_ALLOWED, self.bumper_mm, self.preload_mm(count))

    def forecast(self, count: float) -> Forecast | None:
        """Deepest point of the next ride over the worst route; None before a ride gave a length."""
        runs = self.usable(self.worst_route)
        if self.worst is None or not self._answers(count):
            return None
        if not any(run.used_mm.bound is Bound.EXACT for run in runs):
            return None
        low, mid, high = (self.worst.stroke_at(p, self.preload_mm(count)) for p in (0.05, 0.5, 0.95))
        # the load factor goes by u + d where springs are linear
        scatter = self.worst.scatter.value * (mid + self.preload_mm(count))
        return Forecast(mid, low, high, scatter, len(runs))

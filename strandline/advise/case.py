"""One end and load of a bike: its rides, the step that the rules come to, and what is behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from strandline.facts.ends import EndFacts
from strandline.facts.loads import CaseLoads
from strandline.facts.rides import EndRide
from strandline.facts.risk import Forecast, RiskModel
from suspension.advice.setting import CountInterval, count_interval
from suspension.advice.situation import Situation
from suspension.advice.step import Action, Step
from suspension.loads.limits import LoadVerdict


@dataclass(frozen=True)
class CaseAdvice:
    """The next step for one end and one load case.

    Attributes
    ----------
    facts : EndFacts
    load : CaseLoads
    rides : tuple of EndRide
        Of this load, with a reading or one that was refused; empty for a load that was never ridden.
    step : Step or None
        None where no adjuster is described, or nothing can be said.
    situation : Situation or None
    risk : RiskModel or None
    base : str or None
        The load that a count from the statics starts from.
    remarks : tuple of str
        What the person should know besides; what is missing.
    stance : tuple of str
        How the bike stands by the sag of this load, and what a step does to that.
    """

    facts: EndFacts
    load: CaseLoads
    rides: tuple[EndRide, ...] = ()
    step: Step | None = None
    situation: Situation | None = None
    risk: RiskModel | None = None
    base: str | None = None
    remarks: tuple[str, ...] = ()
    stance: tuple[str, ...] = ()

    @property
    def ridden(self) -> bool:
        """Whether it rests on rides of this load."""
        return bool(self.rides)

    @property
    def now(self) -> float | None:
        """The count that this load was ridden at last."""
        return None if self.situation is None else self.situation.now

    @property
    def found(self) -> float | None:
        """The count that was ridden and found; None before that."""
        return self.step.count if self.step is not None and self.step.action is Action.FOUND else None

    @property
    def to_try(self) -> float | None:
        """The count to set next; None where it is found, none can be named, or the load must not be ridden."""
        if self.step is None or self.found is not None or self.load.verdict is LoadVerdict.OVER:
            return None
        return self.step.count

    @cached_property
    def forecast(self) -> Forecast | None:
        """The next ride at the count that the step ends at."""
        if self.step is None or self.step.count is None or self.risk is None or not self.rides:
            return None
        return self.risk.forecast(self.step.count)

    @cached_property
    def interval(self) -> CountInterval | None:
        """Between which counts the softest lies that is firm enough; None before three rides of this load."""
        if self.risk is None or self.situation is None or len(self.situation.runs) < 3:
            return None
        return count_interval([one.count for one in self.situation.counts], self.risk.certainty)

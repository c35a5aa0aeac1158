"""One end of a bike as the arithmetic takes it; what its file does not say stays None."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Adjuster as FileAdjuster
from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.names import End
from strandline.facts.bike import air, motion_ratio, springs
from suspension.sag.sag import SagScale
from suspension.sag.windows import Use, WhichSag, sag_window
from suspension.springs.adjuster import Adjuster
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.springs import ForceTable, LinearSpring, Spring
from suspension.springs.wheel_rate import EndForces, wheel_rate_n_per_mm
from suspension.stroke.stops import hard_stop_of_shock_mm

PRELOAD = "preload"
"""Name of the adjuster that this tool gives advice on."""


@dataclass(frozen=True)
class EndFacts:
    """What is known of one end apart from rides.

    Attributes
    ----------
    bike : Bike
    end : End
    legs : tuple of BikeLeg
    adjuster : Adjuster or None
        Preload, in counts up from the soft end.
    ratio : MotionRatio or None
    bumper_met_mm, hard_stop_mm : float or None
        Sb, S.
    forces : EndForces or None
        Of all legs; None where a spring or the motion ratio is not known.
    preload_at_soft_mm : float or None
        d0.
    """

    bike: Bike
    end: End
    legs: tuple[BikeLeg, ...]
    adjuster: Adjuster | None
    ratio: MotionRatio | None
    bumper_met_mm: float | None
    hard_stop_mm: float | None
    forces: EndForces | None
    preload_at_soft_mm: float | None

    @property
    def sides(self) -> int:
        """How many legs carry a spring, and so are set."""
        return sum(leg.has_spring is not False for leg in self.legs)

    def scale(self, which: WhichSag, use: Use | None, stroke_mm: float | None = None) -> SagScale:
        """Give what a sag of this end is compared with; `stroke_mm` is about where the end stands."""
        travel = self.bike.end(self.end).wheel_travel
        stroke = next((leg.stroke.mm for leg in self.legs if leg.stroke is not None), None)
        rate = None
        if self.forces is not None and stroke_mm is not None and stroke_mm >= 0:
            rate = wheel_rate_n_per_mm(self.forces, stroke_mm)
        return SagScale(
            sag_window(use, self.end, which),
            None if travel is None else travel.mm,
            stroke,
            self.ratio,
            rate,
        )


def end_facts(bike: Bike, end: End) -> EndFacts:
    """Gather what is known of one end; its first leg stands for both where they are the same.

    Raises
    ------
    suspension.errors.SuspensionError
        Values of no spring, ratio or adjuster.
    """
    legs = tuple(leg for leg in bike.legs if leg.name.end is end)
    own = preload_adjuster(legs)
    first = legs[0] if legs else None
    met = None if first is None else first.bumper_stroke_mm
    ratio = motion_ratio(bike, end)
    stop = None if first is None else hard_stop_mm(first)
    soft = next(
        (leg.spring.preload_at_soft.value for leg in legs if leg.spring.preload_at_soft is not None),
        None,
    )
    return EndFacts(
        bike,
        end,
        legs,
        None if own is None else own.plain,
        ratio,
        None if met is None else met.value,
        stop,
        _forces(legs, ratio, stop, soft or 0.0),
        soft,
    )


def preload_adjuster(legs: tuple[BikeLeg, ...]) -> FileAdjuster | None:
    """Find the preload adjuster that the bike's file describes for an end, if it does."""
    return next((one for leg in legs for one in leg.adjusters if one.name == PRELOAD), None)


def hard_stop_mm(leg: BikeLeg) -> float | None:
    """S: as the file gives it, else of a shock from its bumper, free and crushed."""
    if leg.stroke is not None:
        return leg.stroke.value
    if leg.extended is None or leg.bumper_free is None or leg.bumper_crushed is None:
        return None
    return hard_stop_of_shock_mm(leg.extended.value, leg.bumper_free.value, leg.bumper_crushed.value)


def _forces(
    legs: tuple[BikeLeg, ...], ratio: MotionRatio | None, stop_mm: float | None, preload_mm: float
) -> EndForces | None:
    made = []
    for leg in legs:
        its = springs(leg)
        if not its and leg.has_spring is not False:
            return None
        made.append(LegForces(_side_by_side(its), preload_mm if its else 0.0, air(leg)))
    return EndForces(tuple(made), ratio, stop_mm) if made and ratio is not None else None


def _side_by_side(its: tuple[LinearSpring | ForceTable, ...]) -> Spring | None:
    """Springs of one leg as one; they are all the same."""
    if not its:
        return None
    first, number = its[0], len(its)
    if isinstance(first, LinearSpring):
        return LinearSpring(number * first.rate)
    return ForceTable(first.compressions_mm, tuple(number * force for force in first.forces_n))

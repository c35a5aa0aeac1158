"""Forces and rate at the wheel: both legs of an end through its motion ratio.

Force goes by the ratio, rate by its square; a ratio that changes adds a term of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from suspension.errors import SuspensionError
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio


@dataclass(frozen=True)
class EndForces:
    """All that carries one end of the bike.

    Attributes
    ----------
    legs : tuple of LegForces
        Both fork legs, both shocks, or the one shock.
    ratio : MotionRatio
        Stroke over vertical wheel travel, the same for all legs.
    stroke_mm : float or None
        S, stroke to the hard stop; None where not known.

    Raises
    ------
    SuspensionError
        No leg, or a stroke that is not positive.
    """

    legs: tuple[LegForces, ...]
    ratio: MotionRatio
    stroke_mm: float | None = None

    def __post_init__(self) -> None:
        if not self.legs or (self.stroke_mm is not None and not self.stroke_mm > 0):
            raise SuspensionError(
                "An end needs at least one leg, and a stroke above zero.",
                "Leave the stroke out if not known.",
            )

    def with_preload(self, preload_mm: float) -> EndForces:
        """Give the same end with all its springs at one preload: both sides are set the same."""
        return replace(self, legs=tuple(leg.with_preload(preload_mm) for leg in self.legs))


def wheel_force_n(end: EndForces, stroke_mm: float) -> float:
    """Vertical force at the wheel: sum of F MR, N [handbook]."""
    return sum(leg.force_n(stroke_mm) for leg in end.legs) * end.ratio.at(stroke_mm)


def wheel_rate_n_per_mm(end: EndForces, stroke_mm: float) -> float:
    """Rate at the wheel: kw = sum k MR² + F dMR/dz, N/mm, z the wheel's travel [handbook, derived].

    The last term is nothing for a constant ratio. dMR/dz = MR dMR/dc.
    """
    ratio = end.ratio.at(stroke_mm)
    force = sum(leg.force_n(stroke_mm) for leg in end.legs)
    rate = sum(leg.rate_n_per_mm(stroke_mm) for leg in end.legs)
    return rate * ratio**2 + force * ratio * end.ratio.slope_per_mm(stroke_mm)

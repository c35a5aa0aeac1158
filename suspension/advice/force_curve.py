"""Load factor over stroke: what turns a reading into the load that explains it, at any preload."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from suspension.quantities.quantity import Quantity
from suspension.springs.wheel_rate import EndForces, wheel_force_n


@dataclass(frozen=True)
class ForceCurve:
    """Force at the wheel over stroke and preload.

    Attributes
    ----------
    force_n : callable
        Vertical force at the wheel, N (or, where no rate is known, the compression of the spring, mm), from
        stroke mm and preload mm.
    stroke_mm : float
        S, where the travel ends.
    has_rates : bool
        Whether forces are newtons: only then does the range of load factors before any ride apply.
    """

    force_n: Callable[[float, float], float]
    stroke_mm: float
    has_rates: bool = True

    @classmethod
    def of_end(cls, end: EndForces, stroke_mm: float) -> ForceCurve:
        """Build the curve of an end whose springs are known."""
        return cls(
            lambda stroke, preload: wheel_force_n(end.with_preload(max(0.0, preload)), stroke), stroke_mm
        )

    @classmethod
    def by_depth(cls, stroke_mm: float) -> ForceCurve:
        """Build the curve of linear springs of unknown rate: force goes by u + d."""
        return cls(lambda stroke, preload: stroke + preload, stroke_mm, has_rates=False)


@dataclass(frozen=True)
class RideAt:
    """One ride as the posterior takes it.

    Attributes
    ----------
    used_mm : Quantity
        u of the deeper leg; a censored one is kept as a limit.
    preload_mm : float
        d at that ride.
    sprung_load_n : float
        Ws at that ride; 1 for a curve without rates.
    """

    used_mm: Quantity
    preload_mm: float
    sprung_load_n: float = 1.0

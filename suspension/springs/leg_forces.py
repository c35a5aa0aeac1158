"""The forces inside one leg over its stroke: spring, air and bumper."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from suspension.errors import SuspensionError
from suspension.springs.air import SLOW, AirChamber
from suspension.springs.springs import ForceTable, Spring


@dataclass(frozen=True)
class LegForces:
    """What pushes one leg apart; what it does not have is None.

    Attributes
    ----------
    spring : Spring or None
        Some forks have a spring in one leg only.
    preload_mm : float
        d, compression of the spring at full extension, 0 or more.
    air : AirChamber or None
    bumper : ForceTable or None
        A bumper's measured force over its own compression.
    bumper_met_mm : float or None
        Sb, stroke at which it is met, mm; needed with a bumper.
    air_exponent : float
        Polytropic exponent of the air, 1 (slow) to 1.4 (fast).

    Raises
    ------
    SuspensionError
        Negative preload, or a bumper without the stroke at which it is met.
    """

    spring: Spring | None = None
    preload_mm: float = 0.0
    air: AirChamber | None = None
    bumper: ForceTable | None = None
    bumper_met_mm: float | None = None
    air_exponent: float = SLOW

    def __post_init__(self) -> None:
        if not self.preload_mm >= 0:
            raise SuspensionError(
                f"A preload of {self.preload_mm:.1f} mm: the spring would be loose at full extension.",
                "Give how far it is compressed with the wheel hanging free, zero or more.",
            )
        if self.bumper is not None and self.bumper_met_mm is None:
            raise SuspensionError(
                "It is not said where the bumper is met.", "Give the stroke to the bumper in mm."
            )

    def force_n(self, stroke_mm: float) -> float:
        """F = k (d + c) + air + bumper, N."""
        force = 0.0 if self.spring is None else self.spring.force_n(self.preload_mm + stroke_mm)
        if self.air is not None:
            force += self.air.force_n(stroke_mm, self.air_exponent)
        if self.bumper is not None and self.bumper_met_mm is not None:
            force += self.bumper.force_n(stroke_mm - self.bumper_met_mm)
        return force

    def rate_n_per_mm(self, stroke_mm: float) -> float:
        """dF/dc, N/mm: the sum of the rates of spring, air and bumper."""
        rate = self.spring_rate(stroke_mm)
        if self.air is not None:
            rate += self.air.rate_n_per_mm(stroke_mm, self.air_exponent)
        if self.bumper is not None and self.bumper_met_mm is not None:
            rate += self.bumper.rate_n_per_mm(stroke_mm - self.bumper_met_mm)
        return rate

    def spring_rate(self, stroke_mm: float) -> float:
        """Rate of the spring alone, N/mm: what a mm of preload adds to the force."""
        return 0.0 if self.spring is None else self.spring.rate_n_per_mm(self.preload_mm + stroke_mm)

    @property
    def known_to_mm(self) -> float:
        """Largest stroke at which all forces are known: a table or the air ends somewhere, mm."""
        ends = [math.inf]
        if isinstance(self.spring, ForceTable):
            ends.append(self.spring.compressions_mm[-1] - self.preload_mm)
        if self.bumper is not None and self.bumper_met_mm is not None:
            ends.append(self.bumper_met_mm + self.bumper.compressions_mm[-1])
        if self.air is not None:
            # a hair before the air is gone: its force is finite there, and over any load
            ends.append(self.air.volume_mm3 / self.air.area_mm2 * (1 - 1e-6))
        return min(ends)

    def with_preload(self, preload_mm: float) -> LegForces:
        """Give the same leg with another preload."""
        return replace(self, preload_mm=preload_mm)

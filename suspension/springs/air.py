"""The air in a fork leg: a spring besides the coil, with absolute pressures throughout."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.errors import SuspensionError

# Standard atmosphere, kPa: the definition, ISO 2533 (memory).
STANDARD_ATMOSPHERE_KPA = 101.325
# Polytropic exponents: slow changes share their heat with the leg, fast ones keep it [handbook].
SLOW, FAST = 1.0, 1.4
_N_PER_MM2 = 1e-3  # one kPa in N/mm²


@dataclass(frozen=True)
class AirChamber:
    """The air above the oil, at full extension.

    Attributes
    ----------
    tube_diameter_mm : float
        do, outside diameter of the sliding tube, which displaces the air.
    volume_mm3 : float
        V0 at full extension.
    pressure_kpa : float
        p0 at full extension, absolute; a gauge reads zero at the atmosphere.
    atmosphere_kpa : float
        Absolute pressure outside.

    Raises
    ------
    SuspensionError
        A diameter, volume or pressure that is not positive.
    """

    tube_diameter_mm: float
    volume_mm3: float
    pressure_kpa: float = STANDARD_ATMOSPHERE_KPA
    atmosphere_kpa: float = STANDARD_ATMOSPHERE_KPA

    def __post_init__(self) -> None:
        values = (self.tube_diameter_mm, self.volume_mm3, self.pressure_kpa, self.atmosphere_kpa)
        if not all(math.isfinite(x) and x > 0 for x in values):
            raise SuspensionError(
                "The air's diameter, volume and pressures must all be above zero.",
                "Give pressures as absolute: what the gauge shows and the atmosphere's 101 kPa.",
            )

    @property
    def area_mm2(self) -> float:
        """A = pi do²/4, mm²."""
        return math.pi * self.tube_diameter_mm**2 / 4

    def volume_at_mm3(self, stroke_mm: float) -> float:
        """V = V0 - A c, mm³.

        Raises
        ------
        SuspensionError
            No air would be left: the volume, the diameter or the oil level is wrong.
        """
        volume = self.volume_mm3 - self.area_mm2 * stroke_mm
        if volume <= 0:
            raise SuspensionError(
                f"At a stroke of {stroke_mm:.1f} mm no air would be left in the leg.",
                "Check the air's volume at full extension, and the oil level.",
            )
        return volume

    def force_n(self, stroke_mm: float, exponent: float = SLOW) -> float:
        """Force of the air: F = (p - patm) A with p = p0 (V0/V)^n, N.

        Parameters
        ----------
        stroke_mm : float
            c, from full extension.
        exponent : float
            n, 1 (slow) to 1.4 (fast).

        Examples
        --------
        >>> round(AirChamber(41, 300_000).force_n(120), 2)
        149.71
        >>> round(AirChamber(41, 300_000).force_n(120, FAST), 2)
        249.04
        """
        _check_exponent(exponent)
        pressure = self.pressure_kpa * (self.volume_mm3 / self.volume_at_mm3(stroke_mm)) ** exponent
        found: float = (pressure - self.atmosphere_kpa) * self.area_mm2 * _N_PER_MM2
        return found

    def rate_n_per_mm(self, stroke_mm: float, exponent: float = SLOW) -> float:
        """Rate of the air: dF/dc = n p A²/V, N/mm."""
        _check_exponent(exponent)
        volume = self.volume_at_mm3(stroke_mm)
        pressure = self.pressure_kpa * (self.volume_mm3 / volume) ** exponent
        found: float = exponent * pressure * _N_PER_MM2 * self.area_mm2**2 / volume
        return found


def _check_exponent(exponent: float) -> None:
    if not SLOW <= exponent <= FAST:
        raise SuspensionError(
            f"An exponent of {exponent:g} is not between {SLOW:g} (slow) and {FAST:g} (fast).",
            "Choose within these.",
        )

"""What a higher oil level in a fork does: less air, so more force near the end of the stroke and little before."""

from __future__ import annotations

from dataclasses import replace

from suspension.errors import SuspensionError
from suspension.springs.air import AirChamber

# Between slow (1) and fast (1.4): a ride's hits [common practice, no source].
RIDING_EXPONENT = 1.3


def with_more_oil(air: AirChamber, more_oil_mm: float) -> AirChamber:
    """Give the air above an oil level so many mm higher; less than 0 is a lower level.

    Raises
    ------
    SuspensionError
        No air would be left.
    """
    volume = air.volume_mm3 - more_oil_mm * air.area_mm2
    if not volume > 0:
        raise SuspensionError("No air would be left above the oil.", "Choose a smaller change of oil level.")
    return replace(air, volume_mm3=volume)


def force_of_oil_n(
    air: AirChamber, more_oil_mm: float, stroke_mm: float, exponent: float = RIDING_EXPONENT
) -> float:
    """Force in one leg that a higher oil level adds at a stroke, N [derived].

    Parameters
    ----------
    air : AirChamber
        As it is now.
    more_oil_mm : float
        By which the level rises; the tube's inside is taken to be as wide as the tube.
    stroke_mm : float
    exponent : float
        Polytropic, 1 (slow) to 1.4 (fast).

    Examples
    --------
    >>> import math
    >>> air = AirChamber(41, math.pi * 41**2 / 4 * 250)
    >>> [round(force_of_oil_n(air, 10, stroke)) for stroke in (40, 105, 115)]
    [2, 11, 14]
    """
    more = with_more_oil(air, more_oil_mm)
    return more.force_n(stroke_mm, exponent) - air.force_n(stroke_mm, exponent)

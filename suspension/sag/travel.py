"""Lengths along the stroke and along the wheel's vertical travel, kept apart.

The two differ by the motion ratio. A percentage is of a travel in the same coordinate, never of the other one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.springs.motion_ratio import MotionRatio


class Coordinate(StrEnum):
    """What a length was measured along."""

    STROKE = "stroke"
    WHEEL = "vertical wheel travel"


@dataclass(frozen=True)
class Along:
    """A length from full extension, mm, and what it runs along."""

    mm: Quantity
    coordinate: Coordinate


def to_wheel(stroke_mm: Quantity, ratio: MotionRatio | None) -> Along:
    """Turn a stroke into vertical wheel travel where the motion ratio is known; else leave it a stroke.

    Parameters
    ----------
    stroke_mm : Quantity
        From full extension, mm.
    ratio : MotionRatio or None
        None: not known, and the answer stays a stroke; no ratio is made up.

    Returns
    -------
    Along
        The uncertainty is the stroke's over the ratio there (JCGM 100, 5.1.2); the ratio counts as exact.
    """
    if ratio is None:
        return Along(stroke_mm, Coordinate.STROKE)
    wheel = ratio.wheel_travel_mm(stroke_mm.value)
    return Along(
        Quantity(wheel, stroke_mm.sigma / ratio.at(stroke_mm.value), stroke_mm.bound), Coordinate.WHEEL
    )


def reserve_at_wheel(used_mm: Quantity, stop_mm: Quantity, ratio: MotionRatio) -> Along:
    """Wheel travel that is left between a used stroke and a stop, both strokes in mm.

    The uncertainty takes used stroke and stop as independent.
    """
    used, stop = to_wheel(used_mm, ratio).mm, to_wheel(stop_mm, ratio).mm
    left = Quantity(stop.value - used.value, math.hypot(used.sigma, stop.sigma), used_mm.bound.opposite)
    return Along(left, Coordinate.WHEEL)


def percent_of(part: Along, whole: Along | None) -> Quantity | None:
    """Give 100 part/whole; None where the whole is not known.

    Raises
    ------
    SuspensionError
        One along the stroke and one along the wheel's travel, or a whole that is not positive.
    """
    if whole is None:
        return None
    if part.coordinate is not whole.coordinate:
        raise SuspensionError(
            f"A length along the {part.coordinate.value} is no percentage of one along the "
            f"{whole.coordinate.value}.",
            "Turn one of them into the other by the motion ratio first.",
        )
    if whole.mm.value <= 0 or whole.mm.bound is not Bound.EXACT:
        raise SuspensionError("The whole travel is not a length above zero.", "Leave it out if not known.")
    share = part.mm.value / whole.mm.value
    sd = math.hypot(part.mm.sigma, share * whole.mm.sigma) / whole.mm.value
    return Quantity(100 * share, 100 * sd, part.mm.bound)

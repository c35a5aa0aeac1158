"""How the bike stands: pitch from both ends' sag, steering trail, and what a step at one end does to them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.errors import SuspensionError


@dataclass(frozen=True)
class Steering:
    """The steering geometry that trail follows from.

    Attributes
    ----------
    rake_deg : float
        From the vertical.
    wheel_radius_mm : float
        Of the front tyre, loaded.
    offset_mm : float
        From the steering axis forward to the axle, square to the axis: the yokes' offset and the axle's lead.
    """

    rake_deg: float
    wheel_radius_mm: float
    offset_mm: float

    @property
    def trail_mm(self) -> float:
        """Ground trail: (R sin e - offset)/cos e, mm [derived].

        Examples
        --------
        >>> round(Steering(25, 300, 40).trail_mm, 1)
        95.8
        """
        rake = math.radians(self.rake_deg)
        return (self.wheel_radius_mm * math.sin(rake) - self.offset_mm) / math.cos(rake)

    def pitched(self, pitch_deg: float) -> Steering:
        """Give the geometry of a bike pitched so much nose down: the rake is that much steeper."""
        return Steering(self.rake_deg - pitch_deg, self.wheel_radius_mm, self.offset_mm)


def pitch_deg(front_lower_mm: float, rear_higher_mm: float, wheelbase_mm: float) -> float:
    """Pitch nose down: atan((front drop + rear rise)/wheelbase), degrees [derived]; under 0 is nose up.

    Parameters
    ----------
    front_lower_mm, rear_higher_mm : float
        Vertical, at the wheels, mm; under 0 the other way.
    wheelbase_mm : float

    Examples
    --------
    >>> round(pitch_deg(7.6, 9.9, 1440), 2)
    0.7
    """
    if not wheelbase_mm > 0:
        raise SuspensionError("The wheelbase is not above zero.", "Give it in mm.")
    return math.degrees(math.atan((front_lower_mm + rear_higher_mm) / wheelbase_mm))


def pitch_words(pitch: float, steering: Steering | None = None) -> str:
    """Say what a pitch means for the steering.

    Parameters
    ----------
    pitch : float
        Nose down, degrees.
    steering : Steering, optional
        Where known, the change of trail is said too.
    """
    if abs(pitch) < 0.05:  # a twentieth of a degree is some mm at the ends, within reading error [a choice]
        return "Steering angle as before."
    way = "steeper" if pitch > 0 else "flatter"
    words = f"The steering is {abs(pitch):.1f} degrees {way}"
    if steering is not None:
        change = steering.pitched(pitch).trail_mm - steering.trail_mm
    if steering is not None and round(abs(change)) > 0:
        words += f", its trail {abs(change):.0f} mm {'longer' if change > 0 else 'shorter'}"
    if pitch > 0:
        return f"{words}: it turns in more easily and is less stable."
    return f"{words}: it turns in more slowly and is more stable."

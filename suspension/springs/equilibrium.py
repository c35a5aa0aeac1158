"""Where an end comes to rest under a load, and how far a ride pushes it: the balance of forces on the stroke."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from suspension.errors import SuspensionError
from suspension.springs.wheel_rate import EndForces, wheel_force_n

# Where no stroke is known the balance is sought up to the longest that a bike has, mm: off-road forks go to
# 310 [common practice, no source].
LONGEST_STROKE_MM = 400.0
# The force must rise along the stroke; it is checked at so many places.
_SAMPLES = 64


@dataclass(frozen=True)
class Rest:
    """A balance of forces.

    Attributes
    ----------
    stroke_mm : float
        c, from full extension.
    wheel_mm : float
        The same as vertical wheel travel.
    topped_out : bool
        The preload alone carries the load: the wheel hangs on its top-out stop.
    at_stop : bool
        The load is more than the springs carry at the hard stop.
    """

    stroke_mm: float
    wheel_mm: float
    topped_out: bool = False
    at_stop: bool = False


def rest_under(end: EndForces, load_n: float) -> Rest:
    """Solve the balance of forces under a vertical load at the wheel, on [0, S].

    Parameters
    ----------
    end : EndForces
    load_n : float
        Ws, or lam Ws for the deepest point of a ride; N.

    Returns
    -------
    Rest

    Raises
    ------
    SuspensionError
        A load that is negative, a table that ends before the balance, a wheel force that falls along the
        stroke, or no balance on any stroke that a bike has where S is not known.
    """
    from scipy.optimize import brentq

    if not load_n >= 0:
        raise SuspensionError("The load on the springs is negative.", "Check wheel load and unsprung weight.")
    if wheel_force_n(end, 0.0) >= load_n:
        return Rest(0.0, 0.0, topped_out=True)
    high = _high_end(end, load_n)
    if high is None:
        assert end.stroke_mm is not None
        return Rest(end.stroke_mm, end.ratio.wheel_travel_mm(end.stroke_mm), at_stop=True)
    _check_rising(end, high)
    stroke = float(brentq(lambda c: wheel_force_n(end, c) - load_n, 0.0, high, xtol=1e-10))
    return Rest(stroke, end.ratio.wheel_travel_mm(stroke))


def _high_end(end: EndForces, load_n: float) -> float | None:
    """Find a stroke where the force is more than the load; None where it is not even at the hard stop."""
    known_to = min(leg.known_to_mm for leg in end.legs)
    if not end.ratio.is_constant:
        known_to = min(known_to, end.ratio.strokes_mm[-1])
    stroke = LONGEST_STROKE_MM if end.stroke_mm is None else end.stroke_mm
    high = min(stroke, known_to)
    if wheel_force_n(end, high) > load_n:
        return high
    if high < stroke:
        raise SuspensionError(
            f"The balance lies beyond {high:.1f} mm, where a table of this end stops.",
            "Measure spring, bumper and motion ratio over the whole stroke.",
        )
    if end.stroke_mm is None:
        raise SuspensionError(
            "The load is more than the springs carry on any stroke that a bike has.",
            "Check the spring rate and its unit, and give the stroke.",
        )
    return None


def _check_rising(end: EndForces, high_mm: float) -> None:
    forces = [wheel_force_n(end, high_mm * i / _SAMPLES) for i in range(_SAMPLES + 1)]
    if any(b <= a for a, b in itertools.pairwise(forces)):
        raise SuspensionError(
            "The wheel force does not rise all along the stroke, so there is no single balance.",
            "Check the motion ratio's table: is it stroke over wheel travel?",
        )

"""Ride frequency of one end with a load, where springs, motion ratio and loads are known."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.names import End
from strandline.facts.ends import end_facts
from strandline.facts.loads import CaseLoads
from suspension.errors import SuspensionError
from suspension.quantities.plausibility import Figure, warn_of
from suspension.springs.equilibrium import rest_under
from suspension.springs.frequency import ride_frequency_hz
from suspension.springs.wheel_rate import wheel_rate_n_per_mm


@dataclass(frozen=True)
class EndFrequency:
    """How an end bounces.

    Attributes
    ----------
    end : End
    hz : float
    unusual : str or None
        A sentence where it is outside what is usual.
    """

    end: End
    hz: float
    unusual: str | None


def ride_frequencies(bike: Bike, loads: CaseLoads) -> tuple[EndFrequency, ...]:
    """Work out the ride frequency of each end, at its rest with the adjuster at the soft end; ends of which a value is
    not known are left out.
    """
    found = []
    for end in End:
        sprung = loads.sprung_n(bike, end)
        try:
            forces = end_facts(bike, end).forces
            if sprung is None or forces is None:
                continue
            rest = rest_under(forces, sprung.value)
            hz = ride_frequency_hz(sprung.value, wheel_rate_n_per_mm(forces, rest.stroke_mm))
        except SuspensionError:  # a table that ends before the rest, or loads that lift a wheel
            continue
        found.append(EndFrequency(end, hz, warn_of(Figure.RIDE_FREQUENCY_HZ, round(hz, 2))))
    return tuple(found)

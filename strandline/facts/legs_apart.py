"""Left against right at one end, ride by ride."""

from __future__ import annotations

import math

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.records import Ride
from strandline.facts.readings import answer_for
from strandline.facts.rides import BikeLog
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.stroke import StrokeAnswer


def legs_apart(log: BikeLog, end: End) -> tuple[tuple[Ride, Quantity], ...]:
    """Give the stroke used of the left leg less that of the right, mm, of each ride in which both were read.

    Rides with one side only, or with one known as a limit only, are left out.
    """
    seen = ((ride, _apart(ride, log.then[ride.entry.bike_version_id], end)) for ride in log.rides)
    return tuple((ride, apart) for ride, apart in seen if apart is not None)


def _apart(ride: Ride, bike: Bike, end: End) -> Quantity | None:
    sides: dict[str, Quantity] = {}
    for reading in ride.readings:
        answer = answer_for(reading, bike)
        used = answer.used_mm if isinstance(answer, StrokeAnswer) else None
        if reading.leg.end is end and used is not None and used.bound is Bound.EXACT:
            sides[reading.leg.value.rpartition("-")[2]] = used
    left, right = sides.get("left"), sides.get("right")
    if left is None or right is None:
        return None
    return Quantity(left.value - right.value, math.hypot(left.sigma, right.sigma))

"""From a bike and what was recorded to what the trade's arithmetic takes; what is not known stays None."""

from __future__ import annotations

from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.names import End
from ridelog.storage.records import AdjusterCount
from suspension.loads.limits import Plate
from suspension.springs.adjuster import Count
from suspension.springs.air import AirChamber
from suspension.springs.motion_ratio import MotionRatio, fork_motion_ratio
from suspension.springs.springs import ForceTable, LinearSpring, coil_rate

ML_MM3 = 1000.0


def motion_ratio(bike: Bike, end: End) -> MotionRatio | None:
    """Find the motion ratio: as given; else of a fork from its rake; else not known.

    Raises
    ------
    suspension.errors.SuspensionError
        A rake that no fork has.
    """
    its = bike.end(end)
    if its.motion_ratio is not None:
        return its.motion_ratio
    forks = [leg for leg in bike.legs if leg.name.end is end and not leg.layout.has_visible_bumper]
    return fork_motion_ratio(its.rake.value) if forks and its.rake is not None else None


def springs(leg: BikeLeg) -> tuple[LinearSpring | ForceTable, ...]:
    """Give all springs of a leg, which work side by side; () where their force is not known.

    A measured table comes before a given rate, and that before one from dimensions.

    Raises
    ------
    suspension.errors.SuspensionError
        Dimensions of no spring.
    """
    its = leg.spring
    if leg.has_spring is False:
        return ()
    one: LinearSpring | ForceTable | None = None
    if its.table:
        one = ForceTable(
            tuple(x.value for x, _ in its.table),
            tuple(force.value for _, force in its.table),
        )
    elif its.rate is not None:
        one = LinearSpring(its.rate.value)
    elif its.wire and its.mean_diameter and its.active_coils and its.shear_modulus:
        of_coil = coil_rate(
            its.shear_modulus.value,
            its.wire.value,
            its.mean_diameter.value,
            its.active_coils,
        )
        one = LinearSpring(of_coil.rate)
    return () if one is None else (one,) * its.count


def air(leg: BikeLeg) -> AirChamber | None:
    """Give the air in a leg, where all three of its values are known."""
    its = leg.air
    if its.piston_diameter is None or its.volume is None or its.pressure_absolute is None:
        return None
    return AirChamber(
        its.piston_diameter.value,
        its.volume.value * ML_MM3,
        its.pressure_absolute.value,
    )


def plate(bike: Bike) -> Plate:
    """Give the permitted loads, as far as they are known."""
    return Plate(
        total_kg=None if bike.total_limit is None else bike.total_limit.value,
        front_kg=None if bike.front.limit is None else bike.front.limit.value,
        rear_kg=None if bike.rear.limit is None else bike.rear.limit.value,
    )


def count(setting: AdjusterCount) -> Count:
    """Give a setting's count."""
    return Count(setting.count, setting.counted_from, setting.confidence)

"""Does a pair of sags fit the springs and the motion ratio of the bike's file?"""

from __future__ import annotations

import math

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.records import LoadCase
from strandline.facts.ends import end_facts
from strandline.facts.loads import THE_BIKE, bare_loads, loads_of
from strandline.facts.sag import PlaceSag
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.sag.pair_rate import PairRate, added_at_axle_n, rate_of_sag_pair
from suspension.sag.travel import Coordinate
from suspension.sag.windows import WhichSag
from suspension.springs.wheel_rate import wheel_rate_n_per_mm


def pair_rate(place: PlaceSag, bike: Bike, case: LoadCase | None) -> PairRate | None:
    """Work out the wheel rate that static and rider sag of one place show, beside the file's.

    Returns
    -------
    PairRate or None
        None where one of both sags, what the load adds to this axle, or the motion ratio is not known.
    """
    static, rider = place.sag(WhichSag.STATIC), place.sag(WhichSag.RIDER)
    added = added_n(bike, case, place.place.end)
    if static is None or rider is None or added is None:
        return None
    if static.length.coordinate is not Coordinate.WHEEL or rider.length.coordinate is not Coordinate.WHEEL:
        return None
    facts = end_facts(bike, place.place.end)
    by_file = ratio = None
    if facts.ratio is not None:
        middle = facts.ratio.stroke_mm(max(0.0, (static.length.mm.value + rider.length.mm.value) / 2))
        if facts.legs[0].layout.has_visible_bumper:
            ratio = facts.ratio.at(middle)
        if facts.forces is not None:
            try:
                by_file = wheel_rate_n_per_mm(facts.forces, middle)
            except SuspensionError:  # a spring's table that ends before
                by_file = None
    return rate_of_sag_pair(added, static.length.mm, rider.length.mm, by_file, ratio)


def added_n(bike: Bike, case: LoadCase | None, end: End) -> Quantity | None:
    """Work out what a load adds to one axle of the bare bike, N: by its parts, else by scales; None where not known."""
    items = () if case is None else tuple(one for one in case.items if one.label != THE_BIKE)
    if items and bike.wheelbase is not None:
        length = bike.wheelbase.value
        total, variance = 0.0, 0.0
        for one in items:
            if one.mass_kg is None or one.aft_mm is None:
                break
            force = added_at_axle_n(one.mass_kg.value, one.aft_mm.value, length, rear=end is End.REAR)
            by_place = added_at_axle_n(one.mass_kg.value, one.aft_mm.sigma, length, rear=True)
            total += force
            variance += by_place**2 + (force * one.mass_kg.sigma / max(one.mass_kg.value, 1e-9)) ** 2
        else:
            return Quantity(total, math.sqrt(variance))
    bare = bare_loads(bike)
    loaded = loads_of(bike, "", case).axle_n(end)
    if bare is None or loaded is None:
        return None
    own = bare.front_n if end is End.FRONT else bare.rear_n
    return Quantity(loaded.value - own.value, math.hypot(loaded.sigma, own.sigma))

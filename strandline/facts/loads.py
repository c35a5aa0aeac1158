"""What a load case puts on each axle of a bike: by its scales, or by moments, or not known."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.names import End
from ridelog.storage.records import Load, LoadCase, LoadItem
from strandline.facts.bike import plate
from suspension.loads.limits import LoadCheck, LoadVerdict, check_loads, worst
from suspension.loads.loads import (
    GRAVITY_M_PER_S2,
    AxleLoads,
    PointMass,
    add_to,
    best_loads,
    loads_by_moments,
    loads_by_scales,
    sprung_load_n,
)
from suspension.quantities.declared import Amount
from suspension.quantities.quantity import Quantity

THE_BIKE = "the bike itself"
"""Label of the item that is the bare bike's own mass, where its wheels were not weighed."""


@dataclass(frozen=True)
class CaseLoads:
    """A load case on the axles.

    Attributes
    ----------
    name : str
    case : LoadCase or None
    axles : AxleLoads or None
        None without scales, and without masses and places.
    checks : tuple of 3 LoadCheck
        Total, front axle, rear axle against the plate.
    missing : tuple of str
        Why the axles, or the estimate beside the scales, are not known.
    """

    name: str
    case: LoadCase | None
    axles: AxleLoads | None
    checks: tuple[LoadCheck, LoadCheck, LoadCheck]
    missing: tuple[str, ...] = ()

    @property
    def verdict(self) -> LoadVerdict:
        """The verdict that counts."""
        return worst(self.checks)

    def axle_n(self, end: End) -> Quantity | None:
        """Load on one axle, N."""
        if self.axles is None:
            return None
        return self.axles.front_n if end is End.FRONT else self.axles.rear_n

    def sprung_n(self, bike: Bike, end: End) -> Quantity | None:
        """Ws of one end, N; None where the load or the unsprung mass is not known."""
        load = self.axle_n(end)
        return None if load is None else sprung_load_n(load, _plain(bike.end(end).unsprung))


def loads_of(bike: Bike, name: str, case: LoadCase | None) -> CaseLoads:
    """Work out a load case; one of which only the name is known has no loads.

    Raises
    ------
    suspension.errors.SuspensionError
        Masses and places that no bike stands with.
    """
    scales = _scales(case)
    estimated, missing = _estimated(bike, case)
    axles = best_loads(scales, estimated)
    total, front, rear = check_loads(axles, plate(bike))
    if axles is None:
        total = check_loads(_total_alone(bike, case), plate(bike))[0]
    return CaseLoads(name, case, axles, (total, front, rear), missing)


def _scales(case: LoadCase | None) -> AxleLoads | None:
    found = {} if case is None else {one.axle: one.mass_kg for one in case.axle_loads}
    if End.FRONT not in found or End.REAR not in found:
        return None
    front, rear = (found[end] for end in (End.FRONT, End.REAR))
    return loads_by_scales(front, rear)


def _estimated(bike: Bike, case: LoadCase | None) -> tuple[AxleLoads | None, tuple[str, ...]]:
    items = () if case is None else case.items
    if not items:
        return None, ("What is carried is not known.",)
    missing = [
        f"{item_name(one).capitalize()}: {'its mass' if one.mass_kg is None else 'where it sits'} is not known."
        for one in items
        if one.mass_kg is None or one.aft_mm is None
    ]
    if bike.wheelbase is None:
        missing.append("The wheelbase is not known.")
    bare = bare_loads(bike)
    whole = any(one.label == THE_BIKE for one in items)
    if bare is None and not whole:
        missing.append("The bare bike's wheel loads are not known, nor where its own weight acts.")
    if missing or bike.wheelbase is None:
        return None, tuple(missing)
    masses = tuple(_point(one) for one in items if not (bare is not None and one.label == THE_BIKE))
    if bare is None:
        return loads_by_moments(masses, bike.wheelbase.value), ()
    return add_to(bare, masses, bike.wheelbase.value), ()


def bare_loads(bike: Bike) -> AxleLoads | None:
    """Give the unladen bike's axle loads by scales; one wheel and the whole mass give the other."""
    front, rear, all_kg = _plain(bike.front.wheel_load), _plain(bike.rear.wheel_load), _plain(bike.mass)
    if all_kg is not None and front is None and rear is not None:
        front = _less(all_kg, rear)
    elif all_kg is not None and rear is None and front is not None:
        rear = _less(all_kg, front)
    return None if front is None or rear is None else loads_by_scales(front, rear)


def _total_alone(bike: Bike, case: LoadCase | None) -> AxleLoads | None:
    """Give loads of which the total alone is meaningful: it does not depend on where things are."""
    items = () if case is None else case.items
    own = () if any(one.label == THE_BIKE for one in items) else (_plain(bike.mass),)
    masses = [*own, *(None if one.mass_kg is None else _mass(one) for one in items)]
    known = [one for one in masses if one is not None]
    if not items or len(known) < len(masses):
        return None
    middle = Quantity(0.5, 0.0)
    return loads_by_moments(tuple(PointMass("", one, middle) for one in known), 1.0)


def item_name(item: LoadItem) -> str:
    """Name an item: its label, or its kind."""
    if item.what is Load.OTHER:
        return item.label or "other"
    return item.what.value if item.label is None else f"{item.what.value} ({item.label})"


def _point(item: LoadItem) -> PointMass:
    assert item.aft_mm is not None
    name = item_name(item)
    return PointMass(
        f"The {name}" if item.what is not Load.OTHER else name.capitalize(),
        _mass(item),
        item.aft_mm,
    )


def _mass(item: LoadItem) -> Quantity:
    assert item.mass_kg is not None
    return item.mass_kg


def _plain(amount: Amount | None) -> Quantity | None:
    return None if amount is None else amount.quantity


def _less(whole: Quantity, part: Quantity) -> Quantity:
    return Quantity(whole.value - part.value, (whole.sigma**2 + part.sigma**2) ** 0.5)


def kilograms(load_n: Quantity) -> Quantity:
    """Convert a load to the mass that scales show, kg."""
    return Quantity(load_n.value / GRAVITY_M_PER_S2, load_n.sigma / GRAVITY_M_PER_S2)

"""What each axle carries: by scales, by moments, or scales for the bike and moments for what is put on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import COVERAGE_FACTOR, Quantity

# Standard acceleration of free fall, m/s², exact: NIST SP 811 (2008), B.8.
GRAVITY_M_PER_S2 = 9.80665


def weight_n(mass_kg: float) -> float:
    """Weight of a mass, N."""
    return mass_kg * GRAVITY_M_PER_S2


def mass_kg(weight_n: float) -> float:
    """Mass whose weight this is, kg: what a pair of scales shows."""
    return weight_n / GRAVITY_M_PER_S2


class LoadSource(StrEnum):
    """What axle loads rest on; scales override an estimate."""

    SCALES = "scales"
    MOMENTS = "moments"
    SCALES_AND_MOMENTS = "scales and moments"


@dataclass(frozen=True)
class PointMass:
    """Something of mass at one place: the bike, a rider, a piece of luggage, fuel.

    Attributes
    ----------
    name : str
    mass_kg : Quantity
        0 or more.
    behind_front_axle_mm : Quantity
        x, aft of the front axle; more than the wheelbase for what is behind the rear axle, negative before
        the front one.
    """

    name: str
    mass_kg: Quantity
    behind_front_axle_mm: Quantity

    def __post_init__(self) -> None:
        if not self.mass_kg.value >= 0 or not math.isfinite(self.behind_front_axle_mm.value):
            raise SuspensionError(
                f"The mass or the place of {self.name} is not a sensible number.", "Give kg and mm."
            )


@dataclass(frozen=True)
class AxleLoads:
    """Weight on each axle and in all, N.

    Attributes
    ----------
    front_n, rear_n, total_n : Quantity
        The total has an uncertainty of its own: by moments, the axles share errors.
    source : LoadSource
    remarks : tuple of str
    """

    front_n: Quantity
    rear_n: Quantity
    total_n: Quantity
    source: LoadSource
    remarks: tuple[str, ...] = ()


def loads_by_scales(front_kg: Quantity, rear_kg: Quantity) -> AxleLoads:
    """Axle loads as weighed, each wheel on the scales, the other on a block of the same height.

    Raises
    ------
    SuspensionError
        A reading that is not positive.
    """
    if not (front_kg.value > 0 and rear_kg.value > 0):
        raise SuspensionError(
            "A wheel weighs nothing by the scales.", "Weigh both wheels, bike upright, in kg."
        )
    front, rear = _scaled(front_kg, GRAVITY_M_PER_S2), _scaled(rear_kg, GRAVITY_M_PER_S2)
    return AxleLoads(front, rear, _sum(front, rear), LoadSource.SCALES)


def loads_by_moments(
    masses: tuple[PointMass, ...], wheelbase_mm: float, gravity_m_per_s2: float = GRAVITY_M_PER_S2
) -> AxleLoads:
    """Axle loads by moments: Rr = sum(Wi xi)/L, Rf = sum Wi - Rr [handbook].

    Parameters
    ----------
    masses : tuple of PointMass
        All of the bike and what it carries.
    wheelbase_mm : float
        L.
    gravity_m_per_s2 : float

    Returns
    -------
    AxleLoads
        First-order uncertainty of independent masses and places (JCGM 100, 5.1.2).

    Raises
    ------
    SuspensionError
        No wheelbase, no masses, or a front or rear axle that would lift: Rf <= 0 or Rr <= 0.
    """
    front, rear, total = _moments(masses, wheelbase_mm, gravity_m_per_s2)
    _refuse_lifting(front, rear)
    return AxleLoads(front, rear, total, LoadSource.MOMENTS, _behind(masses, wheelbase_mm))


def add_to(weighed: AxleLoads, added: tuple[PointMass, ...], wheelbase_mm: float) -> AxleLoads:
    """Axle loads of a weighed bike with something more on it: the scales' loads and the moments of the rest.

    Raises
    ------
    SuspensionError
        No wheelbase, or an axle that would lift.
    """
    if not added:
        return weighed
    front, rear, total = _moments(added, wheelbase_mm, GRAVITY_M_PER_S2)
    sums = (_sum(weighed.front_n, front), _sum(weighed.rear_n, rear), _sum(weighed.total_n, total))
    _refuse_lifting(sums[0], sums[1])
    remarks = (*weighed.remarks, *_behind(added, wheelbase_mm))
    return AxleLoads(*sums, LoadSource.SCALES_AND_MOMENTS, remarks)


def best_loads(scales: AxleLoads | None, estimated: AxleLoads | None) -> AxleLoads | None:
    """Scales where there are any, else the estimate, else None; said where the two do not agree."""
    if scales is None or estimated is None:
        return scales or estimated
    remarks = list(scales.remarks)
    pairs = (("front", scales.front_n, estimated.front_n), ("rear", scales.rear_n, estimated.rear_n))
    for name, weighed, computed in pairs:
        apart = weighed.value - computed.value
        if abs(apart) > COVERAGE_FACTOR * math.hypot(weighed.sigma, computed.sigma):
            remarks.append(
                f"The {name} scales show {abs(apart) / GRAVITY_M_PER_S2:.0f} kg "
                f"{'more' if apart > 0 else 'less'} than masses and places give; the scales count."
            )
    return AxleLoads(scales.front_n, scales.rear_n, scales.total_n, scales.source, tuple(remarks))


def sprung_load_n(wheel_load_n: Quantity, unsprung_kg: Quantity | None) -> Quantity | None:
    """Ws: wheel load less what moves with the wheel, N; None where the unsprung mass is not known.

    Raises
    ------
    SuspensionError
        Unsprung parts that weigh more than the wheel carries.
    """
    if unsprung_kg is None:
        return None
    unsprung = _scaled(unsprung_kg, GRAVITY_M_PER_S2)
    left = wheel_load_n.value - unsprung.value
    if left <= 0:
        raise SuspensionError(
            "The unsprung mass weighs more than the wheel carries.", "Check both, and their units."
        )
    return Quantity(left, math.hypot(wheel_load_n.sigma, unsprung.sigma))


def _moments(
    masses: tuple[PointMass, ...], wheelbase_mm: float, gravity: float
) -> tuple[Quantity, Quantity, Quantity]:
    if not (wheelbase_mm > 0 and math.isfinite(wheelbase_mm)) or not masses:
        raise SuspensionError(
            "Axle loads by moments need a wheelbase and at least one mass.",
            "Give the wheelbase in mm, and each mass with its distance behind the front axle.",
        )
    front = rear = total = front_var = rear_var = total_var = 0.0
    for one in masses:
        weight = one.mass_kg.value * gravity
        sd_weight = one.mass_kg.sigma * gravity
        share = one.behind_front_axle_mm.value / wheelbase_mm
        sd_share = one.behind_front_axle_mm.sigma / wheelbase_mm
        rear += weight * share
        front += weight * (1 - share)
        total += weight
        moved = (weight * sd_share) ** 2
        rear_var += (share * sd_weight) ** 2 + moved
        front_var += ((1 - share) * sd_weight) ** 2 + moved
        total_var += sd_weight**2
    return (
        Quantity(front, math.sqrt(front_var)),
        Quantity(rear, math.sqrt(rear_var)),
        Quantity(total, math.sqrt(total_var)),
    )


def _refuse_lifting(front: Quantity, rear: Quantity) -> None:
    for name, load in (("front", front), ("rear", rear)):
        if load.value <= 0:
            raise SuspensionError(
                f"With these masses and places the {name} wheel would lift.",
                "Check the distances behind the front axle, in mm, and move load between the axles.",
            )


def _behind(masses: tuple[PointMass, ...], wheelbase_mm: float) -> tuple[str, ...]:
    return tuple(
        f"{one.name} sits behind the rear axle and takes load off the front."
        for one in masses
        if one.behind_front_axle_mm.value > wheelbase_mm and one.mass_kg.value > 0
    )


def _scaled(estimate: Quantity, factor: float) -> Quantity:
    return Quantity(factor * estimate.value, factor * estimate.sigma, estimate.bound)


def _sum(first: Quantity, second: Quantity) -> Quantity:
    return Quantity(first.value + second.value, math.hypot(first.sigma, second.sigma))

"""From the values of a bike's file to a bike, and what must hold between them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ridelog.bikes.bike import Adjuster, Air, Bike, BikeEnd, BikeLeg, Spring
from ridelog.bikes.values import Count
from ridelog.names import AdjusterKind, CountedFrom, End, LegName
from suspension.errors import SuspensionError
from suspension.springs.motion_ratio import fork_motion_ratio

# Where Sb is given for a shock although its extended length gives it, they may differ by so much, mm.
SAME_BUMPER_MM = 2.0

Check = tuple[str, str, str]


def build_bike(values: dict[str, Any]) -> Bike:
    """Build a bike from values that were read one by one; None stands for what is said not to be known."""
    values = _known(values)
    top = {key: value for key, value in values.items() if key not in (*End, "leg")}
    return Bike(
        **top,
        front=BikeEnd(**values["front"]),
        rear=BikeEnd(**values["rear"]),
        legs=tuple(_leg(name, values["leg"][name.value]) for name in LegName if name.value in values["leg"]),
    )


def lay_over(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    """Lay one nested dict of values over another; the upper one counts where both have a value."""
    merged = dict(below)
    for key, value in above.items():
        inner = merged.get(key)
        merged[key] = lay_over(inner, value) if isinstance(value, dict) and isinstance(inner, dict) else value
    return merged


def _known(values: dict[str, Any]) -> dict[str, Any]:
    return {
        key: _known(value) if isinstance(value, dict) else value
        for key, value in values.items()
        if value is not None
    }


def _leg(name: LegName, values: dict[str, Any]) -> BikeLeg:
    plain = {k: v for k, v in values.items() if k not in ("same_as", "marker", "spring", "air", "adjuster")}
    return BikeLeg(
        name=name,
        **plain,
        **{f"marker_{key}": value for key, value in values.get("marker", {}).items()},
        spring=Spring(**values.get("spring", {})),
        air=Air(**values.get("air", {})),
        adjusters=tuple(_adjuster(key, one) for key, one in values.get("adjuster", {}).items()),
    )


def _adjuster(name: str, values: dict[str, Any]) -> Adjuster:
    given = dict(values)
    usual = CountedFrom.SOFT if name == "preload" else CountedFrom.HARD
    for key in ("steps", "standard"):
        if isinstance(given.get(key), Count):
            given[key] = given[key].number
    return Adjuster(name=name, **{"counted_from": usual, **given})


def cross_checks(bike: Bike) -> Iterator[Check]:
    """Find what does not fit together: the key, what is wrong, what would be right."""
    names = {leg.name for leg in bike.legs}
    for end in End:
        alone, pair = LegName(end.value), {name for name in LegName if name.end is end} - {LegName(end.value)}
        if alone in names and names & pair:
            yield (
                f"leg.{end.value}",
                f"The {end.value} has one leg in the middle and legs at its sides too.",
                f"Keep [leg.{end.value}] alone, or the two at the sides.",
            )
        limit = bike.end(end).limit
        if limit is not None and bike.total_limit is not None and limit.value > bike.total_limit.value:
            yield (
                f"{end.value}.limit",
                "The axle limit is more than the total limit.",
                "Check the plate: the total is the larger one.",
            )
        rake = bike.end(end).rake
        if rake is not None:
            try:
                fork_motion_ratio(rake.value)
            except SuspensionError as error:
                yield f"{end.value}.rake", error.message, error.remedy
    for leg in bike.legs:
        yield from _leg_checks(leg)


def _leg_checks(leg: BikeLeg) -> Iterator[Check]:
    key = f"leg.{leg.name.value}"
    if leg.bumper_crushed is not None and leg.bumper_free is None:
        yield f"{key}.bumper_crushed", "The crushed bumper is given without the free one.", "Add bumper_free."
    if not leg.layout.has_visible_bumper and (leg.bumper_free or leg.bumper_crushed):
        yield (
            f"{key}.bumper_free",
            "A fork's bumper is inside and not seen.",
            "Take it out, and give the stroke at which it is met as bumper_contact, if you know it.",
        )
        return
    try:
        made = leg.leg
    except SuspensionError as error:
        yield key, error.message, error.remedy
        return
    if made.extended_mm is not None and made.stroke_mm is not None:
        e0, s = made.extended_mm.value, made.stroke_mm.value
        if leg.layout.has_visible_bumper and e0 > s + made.extended_mm.u95 + made.stroke_mm.u95:
            yield (
                f"{key}.stroke",
                f"The stroke ends {e0 - s:.1f} mm before the bumper is met (extended {e0:.1f}, stroke {s:.1f} mm).",
                "The stroke counts to the hard stop: it is the extended length plus what the bumper gives way.",
            )
        if not leg.layout.has_visible_bumper and s > e0:
            yield (
                f"{key}.stroke",
                f"The stroke is {s - e0:.1f} mm longer than the shaft that is exposed at full extension.",
                "Measure the extended length again, or take the stroke along the shaft from the manual.",
            )
    contact = leg.bumper_contact
    if contact is not None and leg.stroke is not None and contact.value > leg.stroke.value:
        yield f"{key}.bumper_contact", "The bumper is met after the stroke has ended.", "It comes before S."
    if contact is not None and leg.layout.has_visible_bumper and leg.extended is not None:
        gap = contact.value - leg.extended.value
        if abs(gap) > SAME_BUMPER_MM:
            yield (
                f"{key}.bumper_contact",
                f"A shock meets its bumper at its extended length, and this differs from it by {abs(gap):.1f} mm.",
                "Leave bumper_contact out, or measure the extended length to the bumper's free face.",
            )
    for one in leg.adjusters:
        yield from _adjuster_checks(f"{key}.adjuster.{one.name}", one)


def _adjuster_checks(key: str, one: Adjuster) -> Iterator[Check]:
    if one.positions and one.kind is not AdjusterKind.POSITIONS:
        yield (
            f"{key}.positions",
            f"{one.kind.value.capitalize()} have no positions.",
            'Write kind = "positions".',
        )
    if one.positions and one.steps is not None and len(one.positions) != one.steps:
        yield (
            f"{key}.positions",
            f"{len(one.positions)} positions are measured, but the range says {one.steps:g}.",
            "Give one length for each position, from the softest.",
        )
    low, high = one.range
    if high is not None and high <= low:
        yield f"{key}.steps", "The range has no step.", 'Write, for example, steps = "15 clicks".'
    elif one.standard is not None and (one.standard < low or (high is not None and one.standard > high)):
        ends = "" if high is None else f" to {high:g}"
        yield (
            f"{key}.standard",
            f"The standard setting {one.standard:g} is outside the range, {low:g}{ends}.",
            "Count it from the same end as the range.",
        )

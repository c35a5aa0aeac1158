"""A bike as lines for a person, and as fields for JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

from ridelog.bikes.bike import Adjuster, Bike
from strandline.shared.messages import printable
from strandline.shared.units import amount_text, in_units
from suspension.quantities.declared import Amount
from suspension.quantities.lengths import Units
from suspension.springs.motion_ratio import MotionRatio

# The file's own key is spelt otherwise.
_NAMES = {"marker_color": "marker colour"}


def lines(bike: Bike, units: Units | None = None) -> Iterator[str]:
    """Write a bike for a person; what is not known has no line.

    Parameters
    ----------
    bike : Bike
    units : Units, optional
        Left out: each value as it is written in the bike's file.
    """
    yield printable(bike.name)
    yield from _values(bike, "  ", units, ("name", "legs", "front", "rear"))
    for title, end in (("Front", bike.front), ("Rear", bike.rear)):
        found = list(_values(end, "  ", units))
        if found:
            yield title
            yield from found
    for leg in bike.legs:
        yield f"Leg {leg.name.value}: {leg.layout.value}"
        yield from _values(leg, "  ", units, ("name", "layout", "spring", "air", "adjusters"))
        yield from _values(leg.spring, "  spring ", units)
        yield from _values(leg.air, "  air ", units)
        for one in leg.adjusters:
            yield f"  {printable(one.name)}: {_adjuster(one, units)}"


def _values(holder: Any, lead: str, units: Units | None, left_out: tuple[str, ...] = ()) -> Iterator[str]:
    for field in dataclasses.fields(holder):
        value = getattr(holder, field.name)
        plain_default = field.default is not dataclasses.MISSING and value == field.default
        if field.name in left_out or value in (None, (), "unknown") or plain_default:
            continue
        name = _NAMES.get(field.name, field.name.replace("_", " "))
        yield f"{lead}{name}: {_shown(value, units)}"


def _shown(value: Any, units: Units | None) -> str:
    if isinstance(value, Amount):
        return amount_text(value, units)
    if isinstance(value, MotionRatio):
        if value.is_constant:
            return f"{value.ratios[0]:g} (stroke over wheel travel)"
        pairs = zip(value.strokes_mm, value.ratios, strict=True)
        return ", ".join(f"{ratio:g} at {in_units(f'{at:g} mm', units or Units.MM)}" for at, ratio in pairs)
    if isinstance(value, tuple):
        return "; ".join(
            ", ".join(_shown(part, units) for part in one) if isinstance(one, tuple) else _shown(one, units)
            for one in value
        )
    if isinstance(value, bool):
        return "yes" if value else "no"
    return printable(str(value))


def _adjuster(one: Adjuster, units: Units | None) -> str:
    low, high = one.range
    text = f"{one.kind.value}, " + (f"{low:g} to {high:g}" if high is not None else f"from {low:g}")
    text += f", counted from the {one.counted_from.value} end"
    if one.step is not None:
        text += f", {_shown(one.step, units)} each"
    if one.positions:
        text += f", at {_shown(one.positions, units)}"
    return text if one.standard is None else f"{text}, standard {one.standard:g}"

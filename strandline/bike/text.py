"""A bike as lines for a person, and as fields for JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

from ridelog.bikes.amounts import Amount
from ridelog.bikes.bike import Adjuster, Bike
from strandline.shared.messages import printable
from suspension.springs.motion_ratio import MotionRatio


def lines(bike: Bike) -> Iterator[str]:
    """Lines for a person; what is not known has none."""
    yield printable(bike.name)
    yield from _values(bike, "  ", ("name", "legs", "front", "rear"))
    for title, end in (("Front", bike.front), ("Rear", bike.rear)):
        found = list(_values(end, "  "))
        if found:
            yield title
            yield from found
    for leg in bike.legs:
        yield f"Leg {leg.name.value}: {leg.layout.value}"
        yield from _values(leg, "  ", ("name", "layout", "spring", "air", "adjusters"))
        yield from _values(leg.spring, "  spring ")
        yield from _values(leg.air, "  air ")
        for one in leg.adjusters:
            yield f"  {printable(one.name)}: {_adjuster(one)}"


def _values(holder: Any, lead: str, left_out: tuple[str, ...] = ()) -> Iterator[str]:
    for field in dataclasses.fields(holder):
        value = getattr(holder, field.name)
        plain_default = field.default is not dataclasses.MISSING and value == field.default
        if field.name in left_out or value in (None, (), "unknown") or plain_default:
            continue
        yield f"{lead}{field.name.replace('_', ' ')}: {_shown(value)}"


def _shown(value: Any) -> str:
    if isinstance(value, Amount):
        doubt = "" if value.uncertainty_given else f" (± {value.quantity.u95:.3g} {value.unit})"
        return value.as_written + doubt
    if isinstance(value, MotionRatio):
        if value.is_constant:
            return f"{value.ratios[0]:g} (stroke over wheel travel)"
        pairs = zip(value.strokes_mm, value.ratios, strict=True)
        return ", ".join(f"{ratio:g} at {at:g} mm" for at, ratio in pairs)
    if isinstance(value, tuple):
        return "; ".join(
            ", ".join(_shown(part) for part in one) if isinstance(one, tuple) else _shown(one)
            for one in value
        )
    if isinstance(value, bool):
        return "yes" if value else "no"
    return printable(str(value))


def _adjuster(one: Adjuster) -> str:
    low, high = one.range
    text = f"{one.kind.value}, " + (f"{low:g} to {high:g}" if high is not None else f"from {low:g}")
    text += f", counted from the {one.counted_from.value} end"
    if one.step is not None:
        text += f", {_shown(one.step)} each"
    if one.positions:
        text += f", at {_shown(one.positions)}"
    return text if one.standard is None else f"{text}, standard {one.standard:g}"

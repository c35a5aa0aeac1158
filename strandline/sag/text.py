"""Sags as lines for a person, and as fields for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ridelog.storage.records import SagLength
from strandline.facts.sag import PlaceSag
from strandline.shared.fields import DIGITS
from strandline.shared.units import estimate_text, in_units, percent_text
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Quantity
from suspension.sag.travel import Coordinate


def sag_lines(place: PlaceSag, units: Units) -> Iterator[str]:
    """Lines for a person."""
    how = "axle to tail" if place.what is SagLength.AXLE_TO_TAIL else "exposed length"
    yield f"{place.place.value.capitalize()}, by {how}"
    for sag, window in zip(place.sags, place.windows, strict=True):
        along = "at the wheel" if sag.length.coordinate is Coordinate.WHEEL else "of stroke"
        parts = [f"{sag.which.value} sag {estimate_text(sag.length.mm, units)} {along}"]
        if sag.percent is not None:
            parts.append(percent_text(sag.percent))
        if window is not None and sag.length.coordinate is Coordinate.WHEEL:
            parts.append(f"{sag.judgement.value} ({window.low:g} to {window.high:g} %)")
        yield "  " + ", ".join(parts)
        if sag.stiction_mm is not None:
            force = "" if sag.friction_n is None else f": friction of about {_newtons(sag.friction_n, units)}"
            yield f"    risen and settled differ by {format_length(sag.stiction_mm, units)}{force}"
        yield from (f"    {in_units(remark, units)}" for remark in sag.remarks)
    if place.hint is not None:
        yield f"  {place.hint}"


def _newtons(force_n: float, units: Units) -> str:
    # NIST SP 811 (2008), B.8: 1 lbf = 4.448222 N
    return f"{force_n:.0f} N" if units is Units.MM else f"{force_n / 4.448222:.0f} lbf"


def sag_fields(place: PlaceSag) -> dict[str, Any]:
    """Fields for JSON; mm, percent, N."""
    return {
        "place": place.place.value,
        "by": place.what.value,
        "sags": [
            {
                "which": sag.which.value,
                "mm": _estimate(sag.length.mm),
                "along": sag.length.coordinate.value,
                "percent": None if sag.percent is None else _estimate(sag.percent),
                "window_percent": None if window is None else [window.low, window.high],
                "judgement": sag.judgement.value,
                "stiction_mm": sag.stiction_mm,
                "friction_n": sag.friction_n,
                "remarks": list(sag.remarks),
            }
            for sag, window in zip(place.sags, place.windows, strict=True)
        ],
        "hint": place.hint,
    }


def _estimate(estimate: Quantity) -> dict[str, Any]:
    return {
        "value": round(estimate.value, DIGITS),
        "u95": round(estimate.u95, DIGITS),
        "bound": estimate.bound.value,
    }

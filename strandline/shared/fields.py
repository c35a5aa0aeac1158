"""Records as fields for JSON."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

from ridelog.storage.records import Provenance
from suspension.quantities.declared import Amount
from suspension.quantities.quantity import Quantity

DIGITS = 6
"""Decimals of a number in JSON and in the log: a millionth of a mm is far below what a photo can tell."""

STROKE_ESTIMATES = (
    "compression_mm",
    "used_mm",
    "used_percent",
    "reserve_bumper_mm",
    "reserve_hard_mm",
    "hard_stop_mm",
    "shortest_exposed_mm",
    "marker_position_mm",
)
"""Fields of a `StrokeAnswer` that JSON shows."""


def as_fields(value: Any) -> Any:
    """Turn a record into plain lists, dicts, numbers and strings.

    A quantity of a record becomes its value and u95, under its name without the unit; an amount its value, u95
    and unit, and what was written.
    """
    if isinstance(value, Amount):
        return {
            "value": value.value,
            "u95": value.quantity.u95,
            "unit": value.unit,
            "as_written": value.as_written,
        }
    if isinstance(value, Quantity):
        return {"value": value.value, "u95": value.u95, "bound": value.bound.value}
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Provenance):
        return {k: v for k, v in dataclasses.asdict(value).items() if v is not None}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dict(_field(field, getattr(value, field.name)) for field in dataclasses.fields(value))
    if isinstance(value, tuple | list):
        return [as_fields(one) for one in value]
    return value


def _field(field: dataclasses.Field[Any], value: Any) -> tuple[str, Any]:
    if "Quantity" not in str(field.type):
        return field.name, as_fields(value)
    # `exposed_mm` is "exposed" in JSON, and has no bound: what was measured is never censored.
    length = None if value is None else {"value": value.value, "u95": value.u95}
    return field.name.removesuffix("_mm"), length

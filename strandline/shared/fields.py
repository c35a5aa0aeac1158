"""Records as fields for JSON."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

from ridelog.bikes.amounts import Amount
from ridelog.storage.records import Provenance
from suspension.quantities.measured import Estimate, MeasuredLength

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

    A length becomes its value and u95, mm; an amount its value, u95 and unit, and what was written.
    """
    if isinstance(value, Amount):
        return {"value": value.value, "u95": value.u95, "unit": value.unit, "as_written": value.as_written}
    if isinstance(value, MeasuredLength):
        return {"value": value.value_mm, "u95": value.u95_mm}
    if isinstance(value, Estimate):
        return {"value": value.value, "u95": value.u95, "bound": value.bound.value}
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Provenance):
        return {k: v for k, v in dataclasses.asdict(value).items() if v is not None}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_fields(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, tuple | list):
        return [as_fields(one) for one in value]
    return value

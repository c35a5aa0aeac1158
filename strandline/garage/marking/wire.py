"""Marks as a page sends them, checked number by number, and what it gets back (JSON)."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from typing import Any

from strandline.garage.marking.sight import Sight
from strandline.garage.marking.solve import RIMS, Measured, Placed
from strandline.read.hand_marks import HAND_ERROR_PX, Line, MarksError, Point, StatedMarks
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome, outcome_of
from strandline.shared.units import estimate_text
from suspension.quantities.lengths import Units
from suspension.quantities.quantity import Quantity
from vision.names import LengthName

# Points of one line along an edge; the page sends two.
MOST_LINE_POINTS = 20
NAMES = (*RIMS, "edges")


def placed_from(body: bytes, size_px: tuple[int, int]) -> Placed:
    """Read the marks that a page sent.

    Parameters
    ----------
    body : bytes
    size_px : tuple of two int
        Of the upright photo; marks lie on it.

    Raises
    ------
    MarksError
    """
    try:
        found = json.loads(body)
        low, high = HAND_ERROR_PX
        seal, near, end, far = (_rim(found.get(name), size_px) for name in RIMS)
        lines = tuple(_line(one, size_px) for one in _list(found.get("edges"), 2))
        sd_px = min(max(_number(found.get("sd", 1.5)), low), high)
        marks = StatedMarks(seal, near, end, far, lines, sd_px)
        return Placed(marks, _names(found.get("set")), _names(found.get("left_out")) & set(RIMS))
    except (ValueError, TypeError, AttributeError, RecursionError, OverflowError) as error:
        raise MarksError("These are no marks on this photo.", "Open the photo's page again.") from error


def _rim(found: Any, size_px: tuple[int, int]) -> Line:
    return () if found is None else (_point(found, size_px),)


def _line(found: Any, size_px: tuple[int, int]) -> Line:
    points = tuple(_point(one, size_px) for one in _list(found, MOST_LINE_POINTS))
    if len(points) < 2:
        raise ValueError
    return points


def _point(found: Any, size_px: tuple[int, int]) -> Point:
    x, y = (_number(one) for one in _list(found, 2))
    # A line along an edge may end a little outside the picture; nothing is measured far from it.
    if not all(-0.5 * size <= one <= 1.5 * size for one, size in zip((x, y), size_px, strict=True)):
        raise ValueError
    return x, y


def _list(found: Any, most: int) -> list[Any]:
    if found is None:
        return []
    if not isinstance(found, list) or len(found) > most:
        raise ValueError
    return found


def _number(found: Any) -> float:
    if isinstance(found, bool) or not isinstance(found, (int, float)) or not math.isfinite(found):
        raise ValueError
    return float(found)


def _names(found: Any) -> frozenset[str]:
    names = _list(found, len(NAMES))
    if not all(one in NAMES for one in names):
        raise ValueError
    return frozenset(names)


def sight_fields(sight: Sight) -> dict[str, Any]:
    """Give what a page begins with."""
    seen = []
    if sight.joint is not None:
        seen = [name for name in RIMS if getattr(sight.offered, name)] + ["edges"]
    return {
        "marks": marks_fields(sight.offered),
        "seen": seen,
        "found_edges": sight.found_edges,
        "what": sight.what,
        "advice": sight.advice,
    }


def marks_fields(marks: StatedMarks) -> dict[str, Any]:
    """Write marks as a page has them."""
    plain = asdict(marks)
    return {**{name: plain[name][0] if plain[name] else None for name in RIMS}, "edges": plain["edges"]}


def measured_fields(found: Measured, inputs: ReadInputs) -> dict[str, Any]:
    """Write what was measured."""
    outcome = outcome_of("", found.reading, inputs)
    return {
        "lengths": _lengths(found, inputs),
        "stroke": _used(outcome, inputs.units),
        "why": [] if found.waits_for else [f"{one.what} {one.advice}".strip() for one in outcome.messages],
        "waits_for": list(found.waits_for),
        "at_stop": found.reading.marker_at_stop,
        "remarks": list(found.reading.remarks),
        "rail": found.rail,
        "rail_mm": found.rail_mm,
        "sides": found.sides,
        "curves": found.curves or {},
    }


def _lengths(found: Measured, inputs: ReadInputs) -> list[dict[str, Any]]:
    names = {
        LengthName.EXPOSED: "Exposed",
        LengthName.MARKER: "Marker",
        LengthName.REMAINING: "Remaining",
    }
    out = []
    for name, words in names.items():
        length = found.reading.length(name)
        quantity = None if length is None else Quantity.from_u95(length.value_mm, length.u95_mm)
        text = "–" if quantity is None else estimate_text(quantity, inputs.units)
        out.append({"name": name.value, "words": words, "text": text})
    return out


def _used(outcome: Outcome, units: Units) -> str:
    used = outcome.used
    if used is None or used.answer is None or used.answer.used_mm is None:
        return ""
    return estimate_text(used.answer.used_mm, units)

"""Rules by which a reading is scored against a photo's truth, and the counts over many photos.

The fields of a truth are described in `bench.score`.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

SPLITS = ("plain", "tough", "real")

# Each length: the edges that bound it.
BOUNDS = {
    "exposed_mm": ("seal_visible", "far_visible"),
    "marker_mm": ("seal_visible", "marker_visible"),
    "remaining_mm": ("marker_visible", "far_visible"),
}
# A third of an edge's facing half determines where it lies along the shaft.
VISIBLE_NEEDED = 0.35
# An expanded uncertainty over this, mm, is no answer: the program withholds such a length itself.
U95_LIMIT_MM = 3.0
# Error, mm, up to which an answer is not wrong, whatever its uncertainty: a ruler is no better.
TOLERATED_MM = 1.0
# A marker this far from the far end, mm, besides its own width, is not at the stop.
CLEAR_OF_STOP_MM = 2.0
# Traps in which no length can be read, and the one in which only the exposed length can.
UNREADABLE = frozenset({"no_card", "card_hidden", "wrong_card_scale"})
NO_MARKER, IN_BUMPER = "no_marker", "marker_in_bumper"


class Expected(StrEnum):
    """What a good program does with one length of one photo."""

    ANSWER = "answer"
    EITHER = "either"
    SILENCE = "silence"


class Result(StrEnum):
    """What the reading did."""

    RIGHT = "right"
    WRONG = "wrong"
    LUCKY = "lucky"  # right, though the photo does not determine it
    SILENT = "silent"


@dataclass(frozen=True)
class Truth:
    """The truth of one photo, as its JSON holds it."""

    photo: Path
    fields: Mapping[str, Any]

    @property
    def trap(self) -> str | None:
        """Why the photo must not be answered like a usual one."""
        trap: str | None = self.fields["trap"]
        return trap

    def expected(self, quantity: str) -> Expected:
        """Decide whether a length of this photo should be answered."""
        if self.trap in UNREADABLE or (self.trap == NO_MARKER and quantity != "exposed_mm"):
            return Expected.SILENCE
        if self.trap is not None:
            return Expected.EITHER
        visible = min(self.fields[edge] for edge in BOUNDS[quantity])
        return Expected.ANSWER if visible >= VISIBLE_NEEDED else Expected.EITHER


@dataclass(frozen=True)
class Scored:
    """One length of one photo.

    Attributes
    ----------
    truth : Truth
    quantity : str
        A key of `BOUNDS`.
    expected : Expected
    result : Result
    error_mm, u95_mm : float or None
        Of an answer; the error is None where there is no true length.
    reason : str
        The reading's status and first reason.
    """

    truth: Truth
    quantity: str
    expected: Expected
    result: Result
    error_mm: float | None
    u95_mm: float | None
    reason: str


def failure(truth: Truth, reading: Mapping[str, Any] | None) -> str | None:
    """Return what is wrong with a reading as a whole, whatever its lengths, or None."""
    if reading is None:
        return "no reading"
    status = reading.get("status")
    if status == "refused":
        return None
    if status not in ("read", "partial"):
        return f"status {status}: {reading.get('reason')}"
    declared, card = truth.fields["declared"], reading.get("card")
    if card is not None and card != declared["card"]:
        return f"card {card} instead of {declared['card']}"
    remaining_mm = truth.fields["remaining_mm"]
    if reading.get("marker_at_stop") is True and remaining_mm is not None:
        free_mm = remaining_mm - declared["marker_width_mm"]
        if free_mm > CLEAR_OF_STOP_MM:
            return f"marker at the stop, though {free_mm:.1f} mm are free"
    return None


def score(truth: Truth, reading: Mapping[str, Any] | None) -> list[Scored]:
    """Score the three lengths of one photo."""
    reading = reading or {"status": "missing"}
    reason = " ".join(filter(None, (str(reading.get("status")), reading.get("reason"))))
    scored = []
    for quantity in BOUNDS:
        expected, true_mm = truth.expected(quantity), truth.fields[quantity]
        answer = _answer(reading, quantity)
        if answer is None:
            scored.append(Scored(truth, quantity, expected, Result.SILENT, None, None, reason))
            continue
        value_mm, u95_mm = answer
        error_mm = None if true_mm is None else value_mm - true_mm
        result = _judge(truth, quantity, error_mm, u95_mm, reading.get("marker_at_stop"))
        scored.append(Scored(truth, quantity, expected, result, error_mm, u95_mm, reason))
    return scored


def _answer(reading: Mapping[str, Any], quantity: str) -> tuple[float, float] | None:
    """Value and u95 of a length, mm, where both are numbers and the uncertainty is within its limit."""
    length = reading.get(quantity)
    if reading.get("status") not in ("read", "partial") or not isinstance(length, dict):
        return None
    value_mm, u95_mm = length.get("value"), length.get("u95")
    for number in (value_mm, u95_mm):
        if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
            return None
    assert value_mm is not None and u95_mm is not None
    return (value_mm, u95_mm) if 0 < u95_mm <= U95_LIMIT_MM else None


def _judge(truth: Truth, quantity: str, error_mm: float | None, u95_mm: float, at_stop: object) -> Result:
    limit_mm = max(TOLERATED_MM, u95_mm) + truth.fields.get("marking_error_mm", 0.0)
    if error_mm is None or abs(error_mm) > limit_mm:
        return Result.WRONG
    if truth.trap == IN_BUMPER and quantity != "exposed_mm" and at_stop is not True:
        return Result.WRONG
    return Result.LUCKY if truth.trap in UNREADABLE else Result.RIGHT


def summary(scored: Sequence[Scored], failures: Mapping[str, str]) -> dict[str, Any]:
    """Count results.

    Returns
    -------
    dict
        By split and length: answerable, answered, median, 95th percentile and largest absolute error, mm, wrong; by
        split: answers, share within u95, median u95; traps; wrong and failures over all photos.
    """
    lengths, coverage = {}, {}
    for split in SPLITS:
        of_split = [one for one in scored if one.truth.fields["split"] == split]
        if not of_split:
            continue
        for quantity in BOUNDS:
            lengths[f"{split} {quantity}"] = _of_length([one for one in of_split if one.quantity == quantity])
        coverage[split] = _coverage(of_split)
    traps = [one for one in scored if one.truth.trap is not None]
    return {
        "lengths": lengths,
        "coverage": coverage,
        "traps": {
            "photos": len({one.truth.photo for one in traps}),
            "wrong": _count(traps, Result.WRONG),
            "lucky": _count(traps, Result.LUCKY),
        },
        "wrong": _count(scored, Result.WRONG),
        "failures": len(failures),
    }


def _count(scored: Iterable[Scored], result: Result) -> int:
    return sum(one.result is result for one in scored)


def _of_length(scored: Sequence[Scored]) -> dict[str, float | None]:
    answerable = [one for one in scored if one.expected is Expected.ANSWER]
    errors = sorted(abs(one.error_mm) for one in scored if one.error_mm is not None)
    # The 95th percentile by rank: of 20 errors the largest, of 40 the second largest but one.
    rank = min(int(0.95 * len(errors)), len(errors) - 1)
    return {
        "answerable": len(answerable),
        "answered": sum(one.result is not Result.SILENT for one in answerable),
        "median_mm": statistics.median(errors) if errors else None,
        "p95_mm": errors[rank] if errors else None,
        "largest_mm": errors[-1] if errors else None,
        "wrong": _count(scored, Result.WRONG),
    }


def _coverage(scored: Sequence[Scored]) -> dict[str, float | None]:
    pairs = [(abs(one.error_mm), one.u95_mm) for one in scored if one.error_mm is not None and one.u95_mm]
    return {
        "answers": len(pairs),
        "within_u95": sum(error <= u95 for error, u95 in pairs) / len(pairs) if pairs else None,
        "median_u95_mm": statistics.median(u95 for _, u95 in pairs) if pairs else None,
    }

"""The day's results as CSV (RFC 4180) and JSON lines, and the writing of result files."""

from __future__ import annotations

import csv
import io
import json
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from strandline.day.errors import DayError
from strandline.day.reading.records import StrokeName
from strandline.day.results.results import BikeResult, DayResults, ExceptionItem, LegReading, LegResult
from strandline.shared.files import OutputError, write_new
from suspension.quantities.quantity import Quantity
from vision.names import LengthName

READINGS, EXCEPTIONS, LINES = "readings.csv", "exceptions.csv", "day.jsonl"

_STROKES = (
    StrokeName.USED,
    StrokeName.USED_PERCENT,
    StrokeName.RESERVE_BUMPER,
    StrokeName.RESERVE_HARD,
)
# Of a photo's record, what goes into the lines.
_LENGTHS = tuple(name.field for name in LengthName)
_FIELDS = (*_LENGTHS, "status", "marker_at_stop", "stroke", "reasons", "cautions", "remarks")
# What a spreadsheet takes for the start of a formula (OWASP, CSV injection).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def readings_csv(day: DayResults) -> str:
    """Write one line per photo that was read."""
    head = ["label", "card", "bike", "leg", "phase", "file", "sha256", "taken", "counts"]
    for name in (*_LENGTHS, *_STROKES):
        head += [name, f"{name}_u95", *([f"{name}_bound"] if name in _STROKES else [])]
    rows = [
        [
            _text(bike.label),
            _cards(bike),
            _text(bike.bike_name),
            leg.leg.value,
            leg.phase.value,
            _text(reading.file),
            reading.sha256,
            reading.when or "",
            "yes" if reading is leg.counted else "repeats",
            *(cell for name in LengthName for cell in _number(reading.length(name), bound=False)),
            *(cell for name in _STROKES for cell in _number(reading.record.stroke_value(name), bound=True)),
            reading.verdict.words,
        ]
        for bike, leg, reading in _each(day)
    ]
    return _csv([*head, "verdict"], rows)


def exceptions_csv(day: DayResults) -> str:
    """Write one line per exception."""
    head = ["file", "sha256", "reason", "what", "advice", "label", "card", "leg", "phase", "taken"]
    rows = [
        [
            _text(one.file),
            one.sha256 or "",
            one.code,
            _text(one.what),
            _text(one.advice),
            _text(one.label or ""),
            "" if one.card is None else str(one.card),
            "" if one.leg is None else one.leg.value,
            one.phase.value,
            one.when or "",
        ]
        for one in day.exceptions
    ]
    return _csv(head, rows)


def json_lines(day: DayResults) -> str:
    """Write one strict JSON object per line: readings, exceptions, bikes, repeatability, each with its "kind"."""
    return "".join(json.dumps(one, allow_nan=False, sort_keys=True) + "\n" for one in _objects(day))


def _objects(day: DayResults) -> Iterator[dict[str, Any]]:
    for bike, leg, reading in _each(day):
        record = reading.record.to_fields()
        yield {
            "kind": "reading",
            "label": bike.label,
            "cards": bike.cards,
            "bike": bike.bike_name,
            "leg": leg.leg.value,
            "phase": leg.phase.value,
            "file": reading.file,
            "sha256": reading.sha256,
            "taken": reading.when,
            "counts": reading is leg.counted,
            "told_by": reading.by,
            "bands": [band.value for band in reading.verdict.bands],
            "verdict": reading.verdict.words,
            **{name: record[name] for name in _FIELDS},
        }
    for one in day.exceptions:
        yield {"kind": "exception", **_trouble(one)}
    for bike in day.bikes:
        yield {
            "kind": "bike",
            "label": bike.label,
            "cards": bike.cards,
            "bike": bike.bike_name,
            "exceptions": bike.exceptions,
            "left_less_right_mm": [
                {
                    "end": one.end.value,
                    "phase": one.phase.value,
                    **_estimate(one.comparison.difference_mm),
                    "flagged": one.comparison.flagged,
                }
                for one in bike.sides
            ],
            "deeper_after_than_before_mm": [
                {"leg": one.leg.value, **_estimate(one.deeper_mm), "clear": one.is_clear}
                for one in bike.changes
            ],
        }
    for repeat in day.repeated:
        found = repeat.found
        yield {
            "kind": "repeatability",
            "length": repeat.name.field,
            "legs": found.groups,
            "photos": found.readings,
            "sd_mm": found.sd,
            "sd_low_mm": found.low,
            "sd_high_mm": found.high,
            "between_legs_sd_mm": found.between_sd,
            "claimed_sd_mm": repeat.reported_sd,
        }


def _trouble(one: ExceptionItem) -> dict[str, Any]:
    return {
        "file": one.file,
        "sha256": one.sha256,
        "reason": one.code,
        "what": one.what,
        "advice": one.advice,
        "label": one.label,
        "card": one.card,
        "leg": None if one.leg is None else one.leg.value,
        "phase": one.phase.value,
        "taken": one.when,
    }


def _each(day: DayResults) -> Iterator[tuple[BikeResult, LegResult, LegReading]]:
    for bike in day.bikes:
        for leg in bike.legs:
            for reading in leg.readings:
                yield bike, leg, reading


def _estimate(one: Quantity) -> dict[str, Any]:
    return {"value": one.value, "u95": one.u95}


def _cards(bike: BikeResult) -> str:
    return " ".join(str(card) for card in bike.cards)


def _number(one: Quantity | None, *, bound: bool) -> list[str]:
    if one is None:
        return ["", "", *([""] if bound else [])]
    return [f"{one.value:.3f}", f"{one.u95:.3f}", *([one.bound.value] if bound else [])]


def _text(text: str) -> str:
    """Quote text that a spreadsheet would run as a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def _csv(head: list[str], rows: list[list[str]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def write_parts(folder: Path, name: str, parts: Iterator[str]) -> None:
    """Write a large file of the results piece by piece, whole or not at all, over the last run's.

    Raises
    ------
    DayError
    """
    path = folder / name
    draft: Path | None = None
    try:
        handle, draft_name = tempfile.mkstemp(prefix=".strandline-", suffix=".part", dir=folder)
        draft = Path(draft_name)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            for part in parts:
                file.write(part)
        draft.chmod(0o644)
        draft.replace(path)
    except OSError as error:
        raise DayError(
            f"{path} cannot be written: {error.strerror}.",
            "What was read is kept: free some space and run this again.",
        ) from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)


def write_result(folder: Path, name: str, content: str | bytes) -> None:
    """Write one file of the results whole, over the last run's; one that says the same already is left alone.

    Raises
    ------
    DayError
    """
    path, new = folder / name, content.encode("utf-8") if isinstance(content, str) else content
    try:
        if path.is_file() and path.stat().st_size == len(new) and path.read_bytes() == new:
            return
        write_new(path, new, force=True, lasting=False)
    except (OutputError, OSError) as error:
        raise DayError(str(error), "What was read is kept: free some space and run this again.") from error

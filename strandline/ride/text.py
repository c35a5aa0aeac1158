"""A ride as lines for a person, and as fields for JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ridelog.bikes.bike import Bike
from ridelog.errors import LogbookError
from ridelog.storage.records import Reading, Ride, RideEntry, Setting, Source
from strandline.facts.bike import motion_ratio
from strandline.facts.readings import answer_for
from strandline.shared.fields import STROKE_ESTIMATES, as_fields
from strandline.shared.messages import error_text
from strandline.shared.stroke_words import used_words
from strandline.shared.units import estimate_text, setting_text
from strandline.shared.wrapped import wrapped
from suspension.errors import SuspensionError
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Quantity
from suspension.sag.travel import reserve_at_wheel
from suspension.stroke.stroke import StrokeAnswer


def ride_lines(ride: Ride, bike: Bike, units: Units) -> Iterator[str]:
    """Lines of at most 80 columns for a person."""
    for words, indent in ride_sentences(ride, bike, units):
        yield from wrapped(words, indent)


def ride_sentences(ride: Ride, bike: Bike, units: Units) -> Iterator[tuple[str, str]]:
    """Sentences, each with its indent; whole, for pages that break lines themselves."""
    entry = ride.entry
    gone = " (withdrawn)" if ride.withdrawn else ""
    parts = [f"Ride {ride.number}{gone}", entry.date.isoformat(), ride.bike.name]
    parts += [entry.route] if entry.route else []
    yield ", ".join(parts), ""
    if ride.load_case is not None:
        yield f"load: {ride.load_case.name}", "  "
    if entry.felt:
        yield f"felt: {felt_text(entry)}", "  "
    for words in entry.events:
        yield f"event: {words}", "  "
    for words in entry.events_cleared:
        yield f"looked at and cleared: {words}", "  "
    if entry.temperature_c is not None:
        yield f"air temperature: {entry.temperature_c:.0f} °C", "  "
    for name, pressure in (("front", entry.front_pressure_kpa), ("rear", entry.rear_pressure_kpa)):
        if pressure is not None:
            yield f"{name} tyre, cold: {pressure / 100:.2f} bar", "  "
    for place, count in setting_lines(ride):
        yield f"{place}: {count}", "  "
    for reading in ride.readings:
        yield from _reading_sentences(reading, bike, units)
    for line in (entry.note or "").splitlines():
        yield f"note: {line}", "  "


def setting_lines(ride: Ride) -> Iterator[tuple[str, str]]:
    """Give each adjuster and its count, both sides in one where they are the same."""
    by_end: dict[tuple[str, str], dict[str, str]] = {}
    for setting in ride.settings:
        of_end = by_end.setdefault((setting.leg.end.value, setting.adjuster), {})
        of_end[setting.leg.value] = setting_text(setting)
    for (end, adjuster), counts in by_end.items():
        if len(counts) > 1 and len(set(counts.values())) == 1:
            yield f"{end} {adjuster}, both sides", next(iter(counts.values()))
        else:
            yield from ((f"{leg} {adjuster}", count) for leg, count in counts.items())


def settings_words(ride: Ride) -> str:
    """Write all counts in a line: "front preload 3 turns"."""
    return "; ".join(f"{place} {count}" for place, count in setting_lines(ride))


def felt_text(entry: RideEntry) -> str:
    """Write what was felt, each word with its end where it was said of one: "front harsh, dives"."""
    parts = []
    for word in entry.felt:
        ends = [end for end, at in (("front", entry.felt_front), ("rear", entry.felt_rear)) if word in at]
        parts += [f"{end} {word}" for end in ends] or [word.value]
    return ", ".join(parts)


def _reading_sentences(reading: Reading, bike: Bike, units: Units) -> Iterator[tuple[str, str]]:
    source = reading.provenance
    how = f"from {source.photo_name}" if source.source is Source.PHOTO else "measured by hand"
    if source.by_hand:
        how += ", marks set by hand" + (f" by {source.who}" if source.who else "")
    state = "" if reading.state.value == "unknown" else f", {reading.state.value}"
    lengths = [
        f"{name} {format_length(value.value, units, u95_mm=value.u95)}"
        for name, value in (
            ("exposed", reading.exposed_mm),
            ("marker", reading.marker_mm),
            ("remaining", reading.remaining_mm),
        )
        if value is not None
    ]
    if reading.at_stop:
        lengths.append("marker at the stop")
    answer = answer_for(reading, bike)
    shown = used_words(answer, units) if isinstance(answer, StrokeAnswer) else ""
    yield f"{reading.leg.value}: {shown[:1].lower()}{shown[1:] or 'stroke used not known.'}", "  "
    yield f"{', '.join(lengths)} ({how}{state})", "    "
    if not isinstance(answer, StrokeAnswer):
        yield error_text(answer) if isinstance(answer, SuspensionError) else str(answer), "    "
        return
    left = _left_at_wheel(answer, bike, reading)
    if left is not None:
        yield f"left at the wheel, to the hard stop: {estimate_text(left, units)}", "    "
    for line in answer.withheld:
        yield line, "    "


def _left_at_wheel(answer: StrokeAnswer, bike: Bike, reading: Reading) -> Quantity | None:
    """Give the wheel travel that is left to the hard stop, where the motion ratio is known."""
    if answer.used_mm is None or answer.hard_stop_mm is None:
        return None
    try:
        ratio = motion_ratio(bike, reading.leg.end)
        return None if ratio is None else reserve_at_wheel(answer.used_mm, answer.hard_stop_mm, ratio).mm
    except SuspensionError:  # a ratio whose table ends before
        return None


def ride_fields(ride: Ride, bike: Bike) -> dict[str, Any]:
    """Fields for JSON; lengths in mm."""
    entry = as_fields(ride.entry)
    return {
        "ride": ride.number,
        "id": ride.id,
        "bike": ride.bike.name,
        "withdrawn": ride.withdrawn,
        **{
            k: v
            for k, v in entry.items()
            if k not in ("id", "bike_id", "ride_id", "load_case_id", "withdrawn")
        },
        "load": None if ride.load_case is None else ride.load_case.name,
        "settings": [as_fields(one) for one in ride.settings],
        "readings": [{**as_fields(one), "stroke": _stroke(answer_for(one, bike))} for one in ride.readings],
    }


def _stroke(answer: StrokeAnswer | SuspensionError | LogbookError) -> dict[str, Any]:
    if not isinstance(answer, StrokeAnswer):
        return {"status": "refused", "why": f"{answer.message} {answer.remedy}"}
    return {
        "status": "partial" if answer.withheld else "answered",
        "bound": answer.bound.value,
        **{name: as_fields(getattr(answer, name)) for name in STROKE_ESTIMATES},
        "withheld": list(answer.withheld),
    }


def history_line(row: RideEntry | Setting | Reading) -> str:
    """Write a row of a ride's history: when it came, where from, and its values."""
    fields = as_fields(row)
    origin = fields.pop("provenance")
    values = [
        f"{name.replace('_', ' ')} {_plain(value)}"
        for name, value in fields.items()
        if value not in (None, [], False, "unknown") and not name.endswith("id")
    ]
    how = f"{origin['source']}, marks set by hand" if origin["by_hand"] else origin["source"]
    who = f" by {origin['who']}" if origin["who"] else ""
    return f"{origin['recorded_at']} {how}{who}: {', '.join(values)}"


def _plain(value: Any) -> str:
    """Write a value of a row: a length in mm, a list, a number or a word."""
    if isinstance(value, dict):
        return format_length(value["value"], Units.MM, u95_mm=value["u95"])
    if isinstance(value, list):
        return " and ".join(map(str, value))
    if value is True:
        return "yes"
    return f"{value:g}" if isinstance(value, float) else str(value)

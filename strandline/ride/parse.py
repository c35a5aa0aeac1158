"""From what a person types about a ride to what the logbook takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from ridelog.bikes.amounts import PRESSURE
from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.errors import AmountError
from ridelog.names import End, Felt
from ridelog.storage.folded_names import fold
from ridelog.storage.records import Provenance, Reading, RideEntry, Setting
from strandline.shared.common_words import STATES
from strandline.shared.counts import parse_counts
from strandline.shared.parse import name_and_value, parse_day
from suspension.quantities.declared import amount, by_rule
from suspension.quantities.grammar import quote, tidy
from suspension.stroke.leg import State

_LENGTHS = {
    "exposed": "exposed_mm",
    "marker": "marker_mm",
    "remaining": "remaining_mm",
    "reset": "reset_compression_mm",
}
_STATES = [state.value for state in State if state is not State.UNKNOWN]
_PARTS = re.compile(rf"[\s,;]+(?=(?:{'|'.join([*_LENGTHS, 'at-stop', *_STATES])})\b)")
_AT_STOP = re.compile(r"\bat[ -](the )?stop\b")
_TEMPERATURE = re.compile(r"(?P<number>-?[0-9]+(?:[.,][0-9]+)?) ?°? ?(?P<unit>[CF])", re.IGNORECASE)


@dataclass(frozen=True)
class RideOptions:
    """The options as typed."""

    date: str | None = None
    route: str | None = None
    load: str | None = None
    settings: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    at_stop: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    felt: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    events_cleared: tuple[str, ...] = ()
    temperature: str | None = None
    pressures: tuple[str, ...] = ()
    note: str | None = None
    who: str | None = None
    print_scale: str | None = None
    focal_35mm: str | None = None


# Characters. Names stand in tables and charts, where more than a few lines of them help nobody; a note may be long.
_LONGEST = {"route": 200, "load": 200, "who": 200, "event": 200, "note": 5_000}


def not_too_long(text: str, what: str, most: int = _LONGEST["route"]) -> str:
    """Give the text back, or refuse it.

    Raises
    ------
    AmountError
    """
    if len(text) > most:
        raise AmountError(f"{what} has {len(text)} characters.", f"Write at most {most}.")
    return text


def facts(options: RideOptions, entry: RideEntry) -> RideEntry:
    """Put what was typed into a ride's facts; what was not typed stays, and an empty text takes away.

    Raises
    ------
    RecordError, AmountError
    """
    changed: dict[str, Any] = {}
    if options.date is not None:
        changed["date"] = parse_day(options.date)
    for name in ("route", "note"):
        text = getattr(options, name)
        if text is not None:
            changed[name] = not_too_long(text.strip(), f"The {name}", _LONGEST[name]) or None
    not_too_long(options.load or "", "The load's name", _LONGEST["load"])
    not_too_long(options.who or "", "The name", _LONGEST["who"])
    for text in options.states:
        _state(text.rpartition("=")[2])
    if options.felt:
        changed |= _felt(options.felt)
    if options.events:
        for text in options.events:
            not_too_long(text, "The event", _LONGEST["event"])
        events = {fold(text): " ".join(text.split()) for text in options.events if text.strip()}
        changed["events"] = tuple(events.values())
    if options.temperature is not None:
        changed["temperature_c"] = temperature_c(options.temperature)
    for text in options.pressures:
        end, value = name_and_value(text, "--pressure", "front='2.5 bar'")
        if end not in set(End):
            raise AmountError(
                f"{quote(end)} is neither front nor rear.", "Write, for example, --pressure front='2.5 bar'."
            )
        changed[f"{end}_pressure_kpa"] = amount(PRESSURE, value, name=f"{end} tyre's pressure").value
    return replace(entry, **changed)


def _felt(texts: tuple[str, ...]) -> dict[str, tuple[Felt, ...]]:
    """Read how it felt: words of the whole bike, and those of one end as END=WORD."""
    said: dict[str, list[Felt]] = {"felt": [], "felt_front": [], "felt_rear": []}
    for text in texts:
        end, _, word = text.rpartition("=")
        said["felt"].append(Felt(word))
        if end:
            said[f"felt_{end}"].append(Felt(word))
    return {name: tuple(dict.fromkeys(words)) for name, words in said.items()}


def temperature_c(text: str) -> float:
    """Read a temperature of the air, degrees Celsius.

    Raises
    ------
    AmountError
    """
    found = _TEMPERATURE.fullmatch(tidy(text))
    if found is None:
        raise AmountError(
            f"The temperature {quote(text)} is not a number with C or F.", "Write, for example, '17 C'."
        )
    value = float(found["number"].replace(",", "."))
    celsius = value if found["unit"].upper() == "C" else (value - 32.0) / 1.8
    if not -60.0 <= celsius <= 70.0:
        raise AmountError(
            f"{quote(text)} is not a plausible air temperature.", "Check the number and its unit."
        )
    return celsius


def settings(options: RideOptions, bike: Bike, provenance: Provenance) -> Iterator[Setting]:
    """Read the counts, each checked against its adjuster.

    Raises
    ------
    RecordError, AmountError
    """
    yield from parse_counts(options.settings, bike, provenance)


def readings(options: RideOptions, bike: Bike, provenance: Provenance) -> Iterator[Reading]:
    """Read the lengths that were measured by hand; without ± each is taken as read with a ruler.

    A marker at the far end is a reading without a length, too: of a shock at least Sb - w.

    Raises
    ------
    RecordError, AmountError
    """
    at_stop = dict.fromkeys(leg.name for place in options.at_stop for leg in bike.legs_of(place.strip()))
    for text in options.readings:
        place, value = name_and_value(text, "--reading", "rear='remaining 15 mm'")
        leg = bike.leg(place)
        reading = _with_lengths(_without_lengths(options, leg, provenance), value)
        yield replace(reading, at_stop=True) if leg.name in at_stop else reading
        at_stop.pop(leg.name, None)
    for name in at_stop:
        yield replace(_without_lengths(options, bike.leg(name), provenance), at_stop=True)


def _without_lengths(options: RideOptions, leg: BikeLeg, provenance: Provenance) -> Reading:
    return Reading(
        leg.name,
        provenance,
        state_of(options, leg),
        marker_kind=leg.marker_kind,
        marker_lock=leg.marker_lock,
        marker_width_mm=leg.marker.width_mm,
    )


def _with_lengths(reading: Reading, text: str) -> Reading:
    changed: dict[str, Any] = {}
    example = (
        "Write, for example, 'exposed 65 mm, marker 50 mm, remaining 15 mm' or 'remaining 15 mm ± 0.3 mm'."
    )
    for part in _PARTS.split(_AT_STOP.sub("at-stop", text.strip())):
        word, _, value = part.strip(" ,;").partition(" ")
        if word in changed or _LENGTHS.get(word, word) in changed:
            raise AmountError(f"{word} is given twice for {reading.leg.value}.", example)
        if word == "at-stop":
            changed["at_stop"] = True
        elif word in _STATES:
            changed["state"] = State(word)
        elif word in _LENGTHS:
            name = f"{reading.leg.value} {word} length"
            changed[_LENGTHS[word]] = by_rule(value.lstrip("= "), name=name, allow_zero=True).mm
        else:
            raise AmountError(f"{quote(part)} is not a length of a reading.", example)
    return replace(reading, **changed)


def _state(typed: str) -> State:
    text = STATES.get(" ".join(typed.casefold().split()), typed)
    if text not in _STATES:
        raise AmountError(f"{quote(text)} is not a state of the bike.", f"Write one of {', '.join(_STATES)}.")
    return State(text)


def state_of(options: RideOptions, leg: BikeLeg) -> State:
    """How the bike stood: as said for this leg, else as said for all.

    Raises
    ------
    AmountError
    """
    found = State.UNKNOWN
    for text in options.states:
        place, sign, state = text.rpartition("=")
        stood = _state(state)
        if sign and place not in (leg.name.value, leg.name.end.value):
            continue
        if not sign and found is not State.UNKNOWN:
            continue
        found = stood
    return found


def photos(options: RideOptions, bike: Bike) -> Iterator[tuple[BikeLeg, str]]:
    """List the legs and their photos.

    Raises
    ------
    AmountError
    """
    for text in options.photos:
        place, name = name_and_value(text, "--photo", "front-left=IMG_1.jpg")
        yield bike.leg(place), name

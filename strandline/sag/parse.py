"""Parse what a person types about sag into the logbook's records."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ridelog.bikes.bike import Bike
from ridelog.errors import AmountError, RecordError
from ridelog.names import End, LegName
from ridelog.storage.records import Approach, Provenance, SagLength, SagMeasurement, SagSetting
from strandline.facts.photo_readings import PhotoReading, log_sag_length
from strandline.shared.counts import parse_counts
from suspension.quantities.declared import by_rule
from suspension.quantities.grammar import quote
from suspension.stroke.leg import State

_STATES = [state.value for state in State if state is not State.UNKNOWN]
_PARTS = re.compile(rf"[\s,;]+(?=(?:{'|'.join(_STATES)})\b)")
# Two approaches: a stroke after a unit; one within "1 3/8 in" is a fraction's.
_APPROACHES = re.compile(r'(?<=[A-Za-z"])\s*/\s*')
_ORDER = (Approach.FROM_BELOW, Approach.FROM_ABOVE)


@dataclass(frozen=True)
class SagOptions:
    """The options as typed."""

    lengths: tuple[str, ...] = ()
    exposed: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    print_scale: str | None = None
    focal_35mm: str | None = None
    who: str | None = None

    @property
    def says_anything(self) -> bool:
        """Whether anything was measured."""
        return bool(self.lengths or self.exposed or self.photos)


@dataclass(frozen=True)
class Measured:
    """What a session measured, and when its photos were taken.

    Attributes
    ----------
    lengths : tuple of SagMeasurement
    taken : tuple of datetime
        On the camera's clock; none of a photo that does not say.
    """

    lengths: tuple[SagMeasurement, ...]
    taken: tuple[dt.datetime, ...]


def counts(options: SagOptions, bike: Bike, origin: Provenance) -> tuple[SagSetting, ...]:
    """Read the counts at which sag was measured.

    Raises
    ------
    RecordError, AmountError
        A count that the adjuster does not have, or one that is given twice.
    """
    found = [
        SagSetting(one.leg, one.adjuster, one.kind, one.counted_from, origin, one.count, one.confidence)
        for one in parse_counts(options.settings, bike, origin)
    ]
    keys = [(one.leg, one.adjuster) for one in found]
    twice = next((key for key in keys if keys.count(key) > 1), None)
    if twice is not None:
        raise AmountError(
            f"The {twice[1]} of {twice[0].value} is given more than once.", "Give each count once."
        )
    return tuple(found)


def measurements(options: SagOptions, bike: Bike, origin: Provenance) -> Measured:
    """Read typed lengths and photos.

    Raises
    ------
    RecordError, AmountError, SuspensionError
    """
    found = [
        *(one for text in options.lengths for one in _typed(text, SagLength.AXLE_TO_TAIL, bike, origin)),
        *(one for text in options.exposed for one in _typed(text, SagLength.EXPOSED, bike, origin)),
    ]
    photos = list(_photos(options, bike))
    found += [one for one, _ in photos]
    seen: set[tuple[str, ...]] = set()
    for one in found:
        key = (one.place.value, one.what.value, one.state.value, one.approach.value)
        if key in seen:
            raise AmountError(
                f"{one.place.value} {one.state.value} is given more than once.",
                "Give each length once, or two with / between them: first risen, then settled.",
            )
        seen.add(key)
    return Measured(tuple(found), tuple(when for _, when in photos if when is not None))


def _typed(text: str, what: SagLength, bike: Bike, origin: Provenance) -> Iterator[SagMeasurement]:
    option, example = (
        ("--length", "front='hanging 612 mm, on-wheels 586 mm / 590 mm, rider-aboard 573 mm / 578 mm'")
        if what is SagLength.AXLE_TO_TAIL
        else ("--exposed", "front-left='on-wheels 172 mm / 176 mm, rider-aboard 160 mm / 164 mm'")
    )
    place, sign, rest = text.partition("=")
    if not sign or not rest.strip():
        raise AmountError(f"{option} {quote(text)} is not PLACE=LENGTHS.", f"Write {option} {example}.")
    name = _place(place.strip(), what, bike)
    for part in _PARTS.split(rest.strip()):
        word, _, values = part.strip(" ,;").partition(" ")
        if word not in _STATES:
            raise AmountError(
                f"{quote(part)} does not begin with the state of the bike.",
                f"Begin each length with {', '.join(_STATES)}: {option} {example}.",
            )
        several = _APPROACHES.split(values.lstrip("= "))
        if len(several) > 2:
            raise AmountError(
                f"{name.value} {word} has more than two lengths.",
                "Give one, or two: first risen, then settled.",
            )
        for approach, value in zip(_approach(several), several, strict=True):
            amount = by_rule(value, name=f"{name.value} {word} length")
            yield SagMeasurement(name, what, State(word), amount.mm, origin, approach)


def _approach(several: list[Any]) -> tuple[Approach, ...]:
    """Two lengths are from below and from above; one alone says nothing of its approach."""
    return _ORDER if len(several) == 2 else (Approach.NOT_STATED,)


def _place(text: str, what: SagLength, bike: Bike) -> LegName:
    if what is SagLength.EXPOSED:
        return bike.leg(text).name
    if text not in set(End):
        raise AmountError(
            f"{quote(text)} is neither front nor rear.",
            "From axle to tail is measured at an end; for a leg's exposed length use --exposed.",
        )
    return LegName(text)


def _photos(options: SagOptions, bike: Bike) -> Iterator[tuple[SagMeasurement, dt.datetime | None]]:
    groups: dict[tuple[str, State], list[str]] = {}
    for text in options.photos:
        key, sign, name = text.partition("=")
        leg, _, state = key.strip().partition(".")
        if not sign or state not in _STATES or not name.strip():
            raise AmountError(
                f"--photo {quote(text)} is not LEG.STATE=FILE.",
                "Write, for example, --photo rear.on-wheels=IMG_1.jpg.",
            )
        groups.setdefault((leg, State(state)), []).append(name.strip())
    for (leg, state), names in groups.items():
        if len(names) > 2:
            raise AmountError(
                f"{leg} {state.value} has more than two photos.",
                "Give one, or two: first risen, then settled.",
            )
        for approach, name in zip(_approach(names), names, strict=True):
            yield _from_photo(options, bike, leg, state, name, approach)


def _from_photo(
    options: SagOptions, bike: Bike, leg_name: str, state: State, name: str, approach: Approach
) -> tuple[SagMeasurement, dt.datetime | None]:
    from strandline.read.inputs import inputs_of_leg
    from strandline.read.one_photo import read_one
    from strandline.read.parse import parse_photo_options
    from strandline.read.stroke import quantity_of
    from strandline.shared.settings import kept_scales
    from suspension.stroke.shaft_lengths import ShaftLengths

    leg = bike.leg(leg_name)
    inputs = inputs_of_leg(leg, parse_photo_options(options.print_scale, options.focal_35mm, state))
    outcome, _ = read_one(name, inputs, kept_scales())
    exposed = outcome.reading.exposed
    if exposed is None or outcome.sha256 is None:
        why = next((one.text for one in outcome.messages if one.quantity in (None, "exposed")), "")
        raise RecordError(
            f"{leg.name.value}: the exposed length could not be read from {name}, and nothing was kept. {why}",
            "Take it again, or type the length with --exposed.",
        )
    # Where the marker stands is of no matter here, and must not stand in the way.
    lengths = ShaftLengths(quantity_of(exposed))
    read = PhotoReading(name, outcome.sha256, lengths, inputs.marker, state, None)
    return log_sag_length(leg.name, read, approach, options.who), outcome.when

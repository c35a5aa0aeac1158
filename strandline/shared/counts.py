"""Parse counts of adjusters as a person types them: rear.preload='6 clicks'."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ridelog.bikes.amounts import is_dont_know
from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.bikes.values import as_count
from ridelog.errors import AmountError
from ridelog.names import Confidence
from ridelog.storage.records import Provenance, Setting
from strandline.shared.parse import name_and_value


def parse_counts(texts: Iterable[str], bike: Bike, provenance: Provenance) -> Iterator[Setting]:
    """Read counts, each checked against its adjuster; an end's name stands for both of its legs.

    Raises
    ------
    RecordError, AmountError
    """
    for text in texts:
        key, value = name_and_value(text, "--setting", "rear.preload='6 clicks'")
        place, _, adjuster = key.partition(".")
        for leg in bike.legs_of(place):
            yield _setting(leg, adjuster or "preload", value, provenance)


def _setting(leg: BikeLeg, name: str, text: str, provenance: Provenance) -> Setting:
    one = leg.adjuster(name)
    unknown = Setting(leg.name, name, one.kind, one.counted_from, provenance, confidence=Confidence.UNKNOWN)
    if is_dont_know(text):
        return unknown
    unsure = text.rstrip().endswith("?")
    typed = text.rstrip().rstrip("?")
    # The file says what is counted: a plain number is enough.
    words = typed if any(letter.isalpha() for letter in typed) else f"{typed} {one.kind.value}"
    count = as_count(words, f"{leg.name.value} {name}")
    if count.kind is not one.kind:
        raise AmountError(
            f"The {name} of {leg.name.value} is counted in {one.kind.value}, not in {count.kind.value}.",
            f"Write, for example, --setting {leg.name.value}.{name}='{count.number:g} {one.kind.value}'.",
        )
    one.check(count.number)
    confidence = Confidence.IN_DOUBT if unsure else Confidence.COUNTED
    return replace(unknown, count=count.number, confidence=confidence)

"""Parse what a person types about a load into the logbook's records."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ridelog.bikes.amounts import MASS, is_dont_know
from ridelog.bikes.bike import Bike
from ridelog.errors import AmountError, RecordError
from ridelog.names import End
from ridelog.storage.records import AxleLoad, Load, LoadCase, LoadItem, Provenance
from strandline.facts.loads import THE_BIKE
from suspension.quantities.declared import amount, by_rule
from suspension.quantities.grammar import quote

# A person's or a bag's middle is not marked: without ± its place is known to ± 50 mm (95 %) [common
# practice, no source].
PLACE_U95_MM = 50.0
_AT = re.compile(r"\s+at\s+")
_EXAMPLE = "Write, for example, '84 kg at 780 mm': mass, and how far behind the front axle."


@dataclass(frozen=True)
class LoadOptions:
    """The options as typed."""

    riders: tuple[str, ...] = ()
    passengers: tuple[str, ...] = ()
    luggage: tuple[str, ...] = ()
    fuel: tuple[str, ...] = ()
    bike_centre: str | None = None
    scales: tuple[str, ...] = ()

    @property
    def says_anything(self) -> bool:
        """Whether masses or scale readings were given."""
        return any((self.riders, self.passengers, self.luggage, self.fuel, self.bike_centre, self.scales))


def load_case(options: LoadOptions, name: str, bike: Bike, origin: Provenance) -> LoadCase:
    """Read a load case.

    Raises
    ------
    RecordError, AmountError, SuspensionError
    """
    return LoadCase(
        name,
        origin,
        items=tuple(_items(options, bike, origin)),
        axle_loads=tuple(_scales(options.scales, origin)),
    )


def _items(options: LoadOptions, bike: Bike, origin: Provenance) -> Iterator[LoadItem]:
    groups = (
        (Load.RIDER, options.riders),
        (Load.PASSENGER, options.passengers),
        (Load.LUGGAGE, options.luggage),
        (Load.FUEL, options.fuel),
    )
    for what, texts in groups:
        for text in texts:
            label, sign, rest = text.partition("=")
            yield _item(what, rest if sign else text, label.strip() if sign else None, origin)
    if options.bike_centre is not None:
        aft = by_rule(options.bike_centre, name="place of the bike's weight", u95_mm=PLACE_U95_MM).mm
        if bike.mass is None:
            raise RecordError(
                "--bike-centre is given, but the bike's file does not say its mass.",
                "Weigh it, or set mass in the bike's file.",
            )
        yield LoadItem(Load.OTHER, origin, bike.mass.quantity, aft, THE_BIKE)


def _item(what: Load, text: str, label: str | None, origin: Provenance) -> LoadItem:
    parts = _AT.split(text.strip())
    if len(parts) > 2:
        raise AmountError(f"The {what.value} {quote(text)} is not one mass and one place.", _EXAMPLE)
    found = amount(MASS, parts[0], name=f"{what.value}'s mass")
    aft = None
    if len(parts) == 2 and not is_dont_know(parts[1]):
        aft = by_rule(parts[1], name=f"{what.value}'s place", allow_zero=True, u95_mm=PLACE_U95_MM).mm
    return LoadItem(what, origin, found.quantity, aft, label or None)


def _scales(texts: tuple[str, ...], origin: Provenance) -> Iterator[AxleLoad]:
    given = []
    for text in texts:
        end, _, value = text.partition("=")
        if end.strip() not in set(End):
            raise AmountError(
                f"{quote(end)} is neither front nor rear.", "Write, for example, --scales front='118 kg'."
            )
        given.append(End(end.strip()))
        found = amount(MASS, value, name=f"{end.strip()} scales")
        yield AxleLoad(given[-1], found.quantity, origin)
    if given and sorted(given) != sorted(End):
        raise AmountError(
            "Scales are needed for both wheels, each once.",
            "Add the other wheel: --scales front='118 kg' --scales rear='170 kg'.",
        )

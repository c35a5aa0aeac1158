"""Fields for the counts of a bike's adjusters."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ridelog.bikes.bike import Adjuster, Bike
from ridelog.names import AdjusterKind, End
from ridelog.storage.records import Ride
from strandline.shared.units import setting_text

_BARE = re.compile(r"\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unsure>\??)\s*")


@dataclass(frozen=True)
class Counter:
    """A field for an adjuster's count.

    Attributes
    ----------
    key : str
        "front.preload", or with the leg where the sides differ.
    label : str
    kind : AdjusterKind
    counted_from : str
    last : str
        The count of the last ride, for a look; empty where there is none.
    """

    key: str
    label: str
    kind: AdjusterKind
    counted_from: str
    last: str

    def with_unit(self, text: str) -> str:
        """Put the unit to a bare number: "3" of turns is "3 turns"."""
        found = _BARE.fullmatch(text)
        return text if found is None else f"{found['number']} {self.kind.value}{found['unsure']}"


def counters(bike: Bike, before: tuple[Ride, ...] = ()) -> Iterator[Counter]:
    """List the fields: adjusters that all legs of an end have alike once, for both sides.

    Parameters
    ----------
    bike : Bike
    before : tuple of Ride
        The newest first.
    """
    for key, one in _adjusters(bike):
        where = key.rpartition(".")[0]
        label = f"{where.replace('-', ' ').capitalize()} {one.name}"
        yield Counter(key, label, one.kind, one.counted_from.value, _last_count(before, where, one.name))


def _adjusters(bike: Bike) -> Iterator[tuple[str, Adjuster]]:
    for end in End:
        legs = [one for one in bike.legs if one.name.end is end]
        names = dict.fromkeys(one.name for leg in legs for one in leg.adjusters)
        for name in names:
            having = [(leg, one) for leg in legs for one in leg.adjusters if one.name == name]
            if len(having) == len(legs) and all(one == having[0][1] for _, one in having):
                yield f"{end.value}.{name}", having[0][1]
            else:
                yield from ((f"{leg.name.value}.{name}", one) for leg, one in having)


def _last_count(before: tuple[Ride, ...], where: str, name: str) -> str:
    for ride in before:
        for one in ride.settings:
            if one.adjuster == name and where in (one.leg.value, one.leg.end.value):
                return setting_text(one)
    return ""

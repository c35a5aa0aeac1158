"""What is refused before a ride is recorded: one that says nothing, and lengths that no shaft of the bike has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

import click

from ridelog.bikes.bike import Bike
from ridelog.errors import RecordError
from ridelog.storage.records import Reading
from strandline.facts.readings import answer_for
from strandline.ride.parse import RideOptions
from suspension.errors import SuspensionError

# A length over the extended one by more than this share is a typing error, and no marker that slipped or a length of
# the bike's file that is a little wrong [a choice].
BEYOND_SHARE = 0.10
_SAYS_NOTHING = ("date", "who", "states", "print_scale", "focal_35mm")


def refuse_empty(options: RideOptions) -> None:
    """Refuse a ride of which nothing was said but its date.

    Raises
    ------
    click.UsageError
    """
    said = [getattr(options, one.name) for one in fields(options) if one.name not in _SAYS_NOTHING]
    if not any(said):
        raise click.UsageError(
            "The ride says nothing. Add at least a reading, a photo, a setting or what was felt: "
            "strandline ride add --help."
        )


def refuse_beyond_shaft(readings: Iterable[Reading], bike: Bike) -> None:
    """Refuse lengths by hand that are longer than the shaft with the wheel hanging free, and a stop out of reach.

    Raises
    ------
    RecordError
    """
    for reading in readings:
        _refuse_stop_out_of_reach(reading, bike)
        extended = bike.leg(reading.leg).extended
        if extended is None:
            continue
        for name in ("exposed", "marker", "remaining"):
            length = getattr(reading, f"{name}_mm")
            if length is not None and length.value - length.u95 > (1 + BEYOND_SHARE) * extended.value:
                raise RecordError(
                    f"{reading.leg.value}: {name} {length.value:g} mm is longer than the whole exposed shaft, "
                    f"{extended.value:g} mm.",
                    "Check the number and its unit, and extended in the bike's file.",
                )


def _refuse_stop_out_of_reach(reading: Reading, bike: Bike) -> None:
    """Refuse a marker at a far end that the seal cannot come to: of a fork that stops before its clamp."""
    if not reading.at_stop or any((reading.exposed_mm, reading.marker_mm, reading.remaining_mm)):
        return
    answer = answer_for(reading, bike)
    if isinstance(answer, SuspensionError):
        raise RecordError(
            f"{reading.leg.value}: the seal cannot come to the far end. {answer.message}", answer.remedy
        )

"""What is refused before a ride is recorded: one that says nothing, and lengths that no shaft of the bike has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

import click

from ridelog.bikes.bike import Bike
from ridelog.errors import RecordError
from ridelog.storage.records import Reading
from strandline.ride.parse import RideOptions

# A length over the extended one by more than this share is a typing error, and no marker that slipped or a length of
# the bike's file that is a little wrong [a choice].
BEYOND_SHARE = 0.10
_SAYS_NOTHING = ("date", "who", "states", "print_scale", "focal_35mm")


def refuse_empty(options: RideOptions) -> None:
    """Refuse a ride of which nothing was said but its date.

    Raises
    ------
    click.ClickException
    """
    said = [getattr(options, one.name) for one in fields(options) if one.name not in _SAYS_NOTHING]
    if not any(said):
        raise click.ClickException(
            "The ride says nothing. Add at least a reading, a photo, a setting or what was felt: "
            "strandline ride add --help."
        )


def refuse_beyond_shaft(readings: Iterable[Reading], bike: Bike) -> None:
    """Refuse lengths by hand that are longer than the shaft with the wheel hanging free.

    Raises
    ------
    RecordError
    """
    for reading in readings:
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

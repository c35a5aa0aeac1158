"""Photos read on the spot for a ride, with what the bike's file says of the shaft."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path

from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.errors import RecordError
from ridelog.storage.records import Provenance, Reading, Source
from strandline import __version__
from strandline.read.inputs import ReadInputs, inputs_of_leg
from strandline.read.one_photo import Outcome, read_one
from strandline.read.parse import parse_photo_options
from strandline.read.stroke import question
from strandline.ride.parse import RideOptions, photos, state_of


def read_photos(words: RideOptions, bike: Bike) -> Iterator[tuple[Reading, Outcome]]:
    """Read the photos of a ride.

    Yields
    ------
    reading : Reading
        For the logbook.
    outcome : Outcome
        With cautions and remarks.

    Raises
    ------
    RecordError
        A photo that was refused, or a leg without a shaft diameter.
    """
    for leg, name in photos(words, bike):
        inputs = inputs_for(leg, words)
        outcome, _ = read_one(name, inputs)
        if outcome.refused:
            why = " ".join(message.text for message in outcome.messages[:1])
            raise RecordError(
                f"{leg.name.value}: {name} could not be read, and nothing was recorded. {why}",
                "Take it again, type the lengths with --reading, or leave it out.",
            )
        yield to_reading(leg, outcome, inputs, words.who), outcome


def inputs_for(leg: BikeLeg, words: RideOptions) -> ReadInputs:
    """Take what the bike's file says of a leg, and what was typed of its photo."""
    return inputs_of_leg(leg, parse_photo_options(words.print_scale, words.focal_35mm, state_of(words, leg)))


def to_reading(leg: BikeLeg, outcome: Outcome, inputs: ReadInputs, who: str | None) -> Reading:
    """Hand a photo's lengths over, with their covariance and where they come from."""
    asked = question(outcome.reading, inputs)
    assert outcome.sha256 is not None
    name = Path(outcome.name).name
    provenance = Provenance(
        Source.PHOTO,
        __version__,
        photo_name=os.fsencode(name).decode("utf-8", "backslashreplace"),
        photo_sha256=outcome.sha256,
        who=who or None,
    )

    def covariance(i: int, j: int) -> float | None:
        """As the lengths' own uncertainties have it, not as the solve did: see `ShaftLengths`."""
        value = math.nan if asked.lengths.covariance_mm2 is None else asked.lengths.covariance_of(i, j)
        return value if math.isfinite(value) else None

    return Reading(
        leg.name,
        provenance,
        inputs.state,
        asked.lengths.exposed,
        asked.lengths.marker,
        asked.lengths.remaining,
        at_stop=outcome.reading.marker_at_stop,
        marker_kind=leg.marker_kind,
        marker_lock=leg.marker_lock,
        marker_width_mm=asked.marker.width,
        exposed_marker_mm2=covariance(0, 1),
        exposed_remaining_mm2=covariance(0, 2),
        marker_remaining_mm2=covariance(1, 2),
    )

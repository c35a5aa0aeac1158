"""Photos read on the spot for a ride, with what the bike's file says of the shaft."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ridelog.bikes.bike import Bike, BikeLeg
from ridelog.errors import RecordError
from ridelog.storage.records import Reading
from strandline.facts.photo_readings import PhotoReading, log_reading
from strandline.read.already import already_read
from strandline.read.inputs import ReadInputs, inputs_of_leg
from strandline.read.one_photo import Outcome, read_one
from strandline.read.parse import parse_photo_options
from strandline.read.stroke import question
from strandline.ride.parse import RideOptions, photos, state_of
from strandline.shared.settings import kept_scales
from vision.reasons import Reason


@dataclass(frozen=True)
class SeenPhoto:
    """A photo that was read.

    Attributes
    ----------
    reading : Reading
        For the logbook.
    corrected : Reading or None
        The program's own reading, where a person set the marks: it is kept beside `reading`, which counts.
    cautions : tuple of str
        What to take care of after it.
    shows_no_marker : bool
    when : datetime.datetime or None
        When it was taken, on the camera's clock.
    """

    reading: Reading
    cautions: tuple[str, ...] = ()
    shows_no_marker: bool = False
    when: dt.datetime | None = None
    corrected: Reading | None = None

    def rows(self) -> tuple[Reading, ...]:
        """Give the readings for the logbook, the one that counts last."""
        if self.corrected is None:
            return (self.reading,)
        return self.corrected, replace(self.reading, replaces=self.corrected.id)


def read_photos(options: RideOptions, bike: Bike) -> Iterator[SeenPhoto]:
    """Read the photos of a ride.

    Yields
    ------
    SeenPhoto

    Raises
    ------
    RecordError
        A photo that was refused, or a leg without a shaft diameter.
    """
    for leg, name in photos(options, bike):
        inputs = inputs_for(leg, options)
        outcome = _outcome(name, inputs)
        if outcome.refused:
            why = " ".join(message.text for message in outcome.messages[:1])
            raise RecordError(
                f"{leg.name.value}: {name} could not be read, and nothing was recorded. {why}",
                "Take it again, type the lengths with --reading, or leave it out.",
            )
        assert outcome.sha256 is not None
        asked = question(outcome.reading, inputs)
        yield SeenPhoto(
            log_reading(leg.name, PhotoReading.of_question(name, outcome.sha256, asked), options.who),
            outcome.cautions,
            any(note.reason is Reason.NO_MARKER for note in outcome.reading.notes),
            outcome.when,
        )


def _outcome(name: str, inputs: ReadInputs) -> Outcome:
    """Read a photo, unless the calling command has."""
    already = already_read()
    if already is not None and name in already.outcomes:
        return already.outcomes[name]
    return read_one(name, inputs, kept_scales())[0]


def inputs_for(leg: BikeLeg, options: RideOptions) -> ReadInputs:
    """Take what the bike's file says of a leg, and what was typed of its photo."""
    return inputs_of_leg(
        leg, parse_photo_options(options.print_scale, options.focal_35mm, state_of(options, leg))
    )


def no_marker_lines(seen: Iterable[SeenPhoto], number: int) -> Iterator[str]:
    """Say of photos of a recorded ride that show no marker how to record that it was at the bumper."""
    for one in seen:
        if one.shows_no_marker:
            leg = one.reading.leg.value
            yield (
                f"{leg}: No marker on the visible shaft. If it was pushed up to the bumper (or clamp), that is a "
                f"reading: record it with strandline ride amend {number} --at-stop {leg}."
            )

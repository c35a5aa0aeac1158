"""Read one photo file; a failure is recorded in its `Outcome` and does not stop the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.read.causes import causes
from strandline.read.hand_marks import MarksError
from strandline.read.inputs import ReadInputs, hand_marks, request_for
from strandline.read.stroke import Used, answer_words, cautions, used_stroke
from strandline.shared.messages import (
    ROOM_ERRORS,
    Message,
    message_for_error,
    message_for_fault,
    print_fault,
    wrong_usage,
)
from suspension.quantities.print_scale import print_scale
from vision.errors import VisionError

if TYPE_CHECKING:
    from calibration.find_card import CardSighting
    from calibration.focal import FocalPrior
    from calibration.photo import Photo
    from vision.reading import Reading

# Glob characters left unexpanded by the shell.
_PATTERN_SIGNS = "*?["


@dataclass(frozen=True)
class Outcome:
    """Everything there is to report on one photo.

    Attributes
    ----------
    name : str
        As given.
    reading : Reading
        Refused where the file could not be read.
    messages : tuple of Message
        Its reasons, the weightiest first.
    code : str or None
        The first reason's.
    assumed : tuple of str
        What was assumed about this photo.
    used : Used or None
    cautions : tuple of str
        What to take care of after this reading.
    sha256 : str or None
        Of the file's bytes.
    overlay : str or None
        The overlay that was written.
    when : datetime or None
        When the photo was taken, on the camera's clock.
    scale_remark : str
        Of the print scale that was kept for the card in it; "" where it is as stated for all photos.
    answer : tuple of str
        What the reading means, for the overlay: see `strandline.read.stroke.answer_words`.
    """

    name: str
    reading: Reading
    messages: tuple[Message, ...] = ()
    assumed: tuple[str, ...] = ()
    used: Used | None = None
    cautions: tuple[str, ...] = ()
    sha256: str | None = None
    overlay: str | None = None
    when: datetime | None = None
    scale_remark: str = ""
    answer: tuple[str, ...] = ()

    @property
    def code(self) -> str | None:
        """Code of the first and weightiest reason."""
        return self.messages[0].code if self.messages else None

    @property
    def refused(self) -> bool:
        """Whether no length was read."""
        return self.reading.status.value == "refused"

    def assumed_with(self, of_all: Iterable[str]) -> tuple[str, ...]:
        """Give what was assumed about this photo, after what was assumed about all of them."""
        own = self.scale_remark
        every = (own if own and one == print_scale(None).remark else one for one in of_all)
        return (*every, *self.assumed)

    def with_overlay(self, path: Path) -> Outcome:
        """Say where the overlay was written."""
        return replace(self, overlay=str(path))


def see(photo: Photo, focal: FocalPrior, inputs: ReadInputs, card: CardSighting | None = None) -> Reading:
    """Read an opened photo: the one place where the commands call the vision.

    `card` is the photo's, where it was found already, as it is stored; the reading is of the upright photo.
    """
    from vision.read import read
    from vision.turned import marks_turned, reading_turned

    marks, turns = inputs.marks, photo.quarter_turns
    request = request_for(inputs, focal, turns)
    hand = None if marks is None else marks_turned(hand_marks(marks), -turns, photo.size)
    return reading_turned(read(photo.stored, request, hand, card), turns, photo.stored.shape[1::-1])


def read_one(
    name: str, inputs: ReadInputs, scales: Mapping[int, str] | None = None
) -> tuple[Outcome, Photo | None]:
    """Read a photo by its name.

    Parameters
    ----------
    name : str
        As given on the command line.
    inputs : ReadInputs
    scales : mapping, optional
        Print scale of each card that was measured, as written, by its number: taken where `inputs` states none.

    Returns
    -------
    outcome : Outcome
    photo : Photo or None
        None where the file could not be read.

    Raises
    ------
    ImportError
        If a library is missing: that is no photo's fault.
    click.BadParameter
        If marks are set by hand outside the photo, which only its size shows.
    """
    photo = None
    try:
        _refuse_empty_pattern(name)
        photo = _load(name)
        _refuse_marks_outside(photo, inputs)
        known, card = _with_scale_of_card(photo, inputs, scales or {})
        outcome = read_opened(name, photo, known, card)
        if known is not inputs:
            outcome = replace(outcome, scale_remark=known.print.remark)
    except ROOM_ERRORS as error:
        outcome = refused(name, message_for_error(error))
    except (ImportError, click.UsageError):
        raise
    except Exception as error:  # a fault on one photo must not take the others' readings along
        print_fault()
        outcome = refused(name, message_for_fault(name, error))
    return outcome, photo


def _with_scale_of_card(
    photo: Photo, inputs: ReadInputs, scales: Mapping[int, str]
) -> tuple[ReadInputs, CardSighting | None]:
    """Put the kept print scale of the card in the photo into what is known of it; the card, where it was found."""
    if inputs.print.stated or not scales:
        return inputs, None
    from calibration.find_card import CardSighting
    from vision.request import detect_card

    card = detect_card(photo.stored)
    if not isinstance(card, CardSighting) or card.number not in scales:
        return inputs, card if isinstance(card, CardSighting) else None
    scale = print_scale(scales[card.number])
    words = f"Print scale {scales[card.number]} of card {card.number}, as measured (strandline settings)."
    return replace(inputs, print=replace(scale, remark=words)), card


def _load(name: str) -> Photo:
    from calibration.photo import load_photo

    return load_photo(Path(name))


def read_opened(name: str, photo: Photo, inputs: ReadInputs, card: CardSighting | None = None) -> Outcome:
    """Read a photo that is open already; the caller handles errors. `card` as in `see`."""
    from calibration.focal import focal_px_prior

    focal = focal_px_prior(photo, inputs.focal_35mm)
    outcome = outcome_of(name, see(photo, focal, inputs, card), inputs)
    return replace(outcome, assumed=focal.remarks, sha256=photo.sha256, when=photo.exif.when)


def outcome_of(name: str, reading: Reading, inputs: ReadInputs) -> Outcome:
    """Add to a reading what follows from it."""
    used = used_stroke(reading, inputs)
    return Outcome(
        name=name,
        reading=reading,
        messages=causes(reading),
        used=used,
        cautions=cautions(reading, used, inputs.marker.width_mm),
        answer=answer_words(used, inputs),
    )


def refused(name: str, why: Message) -> Outcome:
    """Give the outcome of a photo that could not be read."""
    from vision.reading import Reading, Status

    return Outcome(name=name, reading=Reading(Status.REFUSED), messages=(why,))


def _refuse_empty_pattern(name: str) -> None:
    if any(sign in name for sign in _PATTERN_SIGNS) and not Path(name).exists():
        raise VisionError(f"No file matches {name}.", "Check the folder and the ending, for example *.jpg.")


def _refuse_marks_outside(photo: Photo, inputs: ReadInputs) -> None:
    width, height = photo.size
    point = None if inputs.marks is None else inputs.marks.outside(width, height)
    if point is not None:
        outside = MarksError(
            f"The point {point[0]:g},{point[1]:g} lies outside the photo of {width} x {height} px.",
            "Take the points from the upright photo at its full size.",
        )
        raise wrong_usage(outside, "--rims")

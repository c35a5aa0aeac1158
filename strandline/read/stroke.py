"""From a reading to the rider's question: stroke used, and what is left."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strandline.read.inputs import ReadInputs
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import StrokeAnswer, answer_stroke

if TYPE_CHECKING:
    from vision.reading import Length, Reading


@dataclass(frozen=True)
class Used:
    """The answer to the rider's question, or why there is none.

    Attributes
    ----------
    asked : bool
        Whether anything was given that asks for it; a shock's reserve to its bumper is shown anyway.
    answer : StrokeAnswer or None
    refusal : SuspensionError or None
        Lengths, leg and state contradict each other.
    """

    asked: bool
    answer: StrokeAnswer | None = None
    refusal: SuspensionError | None = None


def used_stroke(reading: Reading, inputs: ReadInputs) -> Used | None:
    """Answer the rider's question from a reading.

    Parameters
    ----------
    reading : Reading
    inputs : ReadInputs

    Returns
    -------
    Used or None
        None where nothing was read, or nothing asks for it.
    """
    lengths = (reading.exposed, reading.marker, reading.remaining)
    wanted = inputs.asks_stroke or inputs.leg.layout.has_visible_bumper
    if not wanted or all(length is None for length in lengths):
        return None
    try:
        return Used(inputs.asks_stroke, answer=answer_stroke(question(reading, inputs)))
    except SuspensionError as error:
        return Used(inputs.asks_stroke, refusal=error)


def question(reading: Reading, inputs: ReadInputs) -> StrokeQuestion:
    """Combine a reading and what was given to the question of the stroke used.

    The extended length is taken as measured by other means than this photo, so that it shares no error with
    it. Where it was read with the same card, the shared part cancels in u = E0 - gn, and the uncertainty given
    is too large rather than too small.
    """
    marker = inputs.marker
    if marker.width_mm is None and reading.marker_band_mm is not None:
        marker = replace(marker, width_mm=quantity_of(reading.marker_band_mm))
    return StrokeQuestion(
        lengths=ShaftLengths.from_photo(
            quantity_of(reading.exposed),
            quantity_of(reading.marker),
            quantity_of(reading.remaining),
            None if reading.covariance_mm2 is None else reading.covariance_mm2.tolist(),
        ),
        leg=inputs.leg,
        marker=marker,
        state=inputs.state,
        at_stop=reading.marker_at_stop,
    )


def quantity_of(length: Length | None) -> Quantity | None:
    """Turn a photo's length (value and 95 % half-width, mm) into a Quantity, mm: the only place that does."""
    return None if length is None else Quantity.from_u95(length.value_mm, length.u95_mm)


# Source: the trade's cautions on markers and on hard knocks [common practice, no source].
AT_STOP = (
    "It may have bottomed: look for a leak, a bent tube or a cracked bumper before you ride again, and do not "
    "bottom it on purpose to measure more."
)
NO_ROOM = (
    "At full compression there is less room than the marker is wide: do not ride with it, or the seal would crush "
    "it."
)


def cautions(reading: Reading, used: Used | None, marker_width: Quantity | None) -> tuple[str, ...]:
    """Cautions that a reading gives cause for.

    Parameters
    ----------
    reading : Reading
    used : Used or None
    marker_width : Quantity or None
        Width of the marker's band along the shaft, mm.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    found = []
    answer = None if used is None else used.answer
    if reading.marker_at_stop or (answer is not None and answer.at_least):
        found.append(AT_STOP)
    room = None if answer is None else answer.shortest_exposed_mm
    if room is None or marker_width is None:
        return tuple(found)
    if room.value - room.u95 < marker_width.value + marker_width.u95:
        found.append(NO_ROOM)
    return tuple(found)

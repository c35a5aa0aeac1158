"""From a reading to the rider's question: stroke used, and what is left."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strandline.read.inputs import ReadInputs
from suspension.errors import SuspensionError
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import StrokeAnswer, answer_stroke
from suspension.stroke.verdict import judge_used

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


def answer_words(used: Used | None, inputs: ReadInputs) -> tuple[str, ...]:
    """Say in three short lines what a reading means: stroke used, of what, and the verdict; nothing is said twice.

    Returns
    -------
    tuple of str
        Empty where neither the used stroke nor what is left is known.
    """
    answer = None if used is None else used.answer
    if answer is None:
        return ()
    units, stop, met = inputs.units, answer.hard_stop_mm, inputs.bumper_met_mm
    if answer.used_mm is None:
        left = answer.reserve_bumper_mm
        return () if left is None else (f"{_amount(left, units)} left to the bumper",)
    stop_mm = None if stop is None else stop.value
    of = "" if stop_mm is None else f"of {format_length(stop_mm, units)} to the stop"
    if answer.used_percent is not None:
        of += f": {answer.used_percent.value:.0f} %"
    elif not of and met is not None:
        of = f"of {format_length(met, units)} to the bumper: {100 * answer.used_mm.value / met:.0f} %"
    bands = judge_used(answer.used_mm, met, stop_mm).bands
    words = "No verdict: the stroke is not known" if not bands else bands[0].value.capitalize()
    if len(bands) > 1:
        words = f"Between “{bands[0].value}” and “{bands[-1].value}”"
    return tuple(one for one in (f"Used {_amount(answer.used_mm, units)}", of, words) if one)


def _amount(one: Quantity, units: Units) -> str:
    bound = "" if one.bound is Bound.EXACT else f"{one.bound.value} "
    return bound + format_length(one.value, units, u95_mm=one.u95)


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

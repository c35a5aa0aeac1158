"""What a person reads of each photo: the stroke used first, then the lengths, then what there is to say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import click

from strandline.read.causes import shown
from strandline.read.one_photo import Outcome
from strandline.shared.messages import Message, error_text
from strandline.shared.stroke_words import used_words
from strandline.shared.wrapped import wrapped
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Bound
from vision.names import LengthName

STATUS_NAMES = {"read": "read", "partial": "partly read", "refused": "not read"}
_STATUS_COLOURS = {"read": "green", "partial": "yellow", "refused": "red"}
QUANTITY_NAMES = {
    LengthName.EXPOSED: "Exposed length",
    LengthName.MARKER: "Marker's distance from the seal",
    LengthName.REMAINING: "Remaining length, marker to far end",
}
_CAUTION = "Take care: "


@dataclass(frozen=True)
class Line:
    """A sentence and how it looks: "", "dim", "bold" or a colour."""

    words: str
    style: str = ""


def show_photo(outcome: Outcome, name: str, units: Units, far_end: str) -> None:
    """Print one photo as soon as it is read, without `show_notes`.

    Parameters
    ----------
    outcome : Outcome
    name : str
        As it is to be called here.
    units : Units
    far_end : str
        Its name: lower clamp, axle foot or bumper.
    """
    reading = outcome.reading
    status = click.style(
        STATUS_NAMES[reading.status.value], fg=_STATUS_COLOURS[reading.status.value], bold=True
    )
    card = "" if reading.card is None else f", card {reading.card}"
    stop = click.style(", marker at the stop", fg="yellow") if reading.marker_at_stop else ""
    click.echo(f"{click.style(name, bold=True)}: {status}{card}{stop}")
    _print(photo_lines(outcome, units, far_end))


def show_notes(outcome: Outcome) -> None:
    """Print what is good to know about one photo, and what to take care of."""
    _print(note_lines(outcome))


def show_end(outcomes: Sequence[Outcome], assumed: Sequence[str], *, from_file: bool) -> None:
    """Print what holds for all photos.

    Parameters
    ----------
    outcomes : sequence of Outcome
    assumed : sequence of str
        What was assumed about all of them.
    from_file : bool
        Whether the shaft comes from a bike's file.
    """
    if any(outcome.used is None and not outcome.refused for outcome in outcomes):
        how = (
            "strandline bike more asks for the hanging length"
            if from_file
            else "Give the hanging length, --extended"
        )
        for part in wrapped(f"{how} (seal to far end, wheel hanging free): the stroke used follows from it."):
            click.echo(part)
    if all(outcome.refused for outcome in outcomes):
        return
    click.echo(_styled("± is the 95 % uncertainty.", "dim"))
    lines = dict.fromkeys(line for one in outcomes if not one.refused for line in one.assumed_with(assumed))
    if lines:
        click.echo(_styled("Assumed:", "dim"))
    for words in lines:
        for part in wrapped(words, "  "):
            click.echo(_styled(part, "dim"))


def photo_lines(outcome: Outcome, units: Units, far_end: str) -> Iterator[Line]:
    """Say what there is to say about one photo, the answer first."""
    used = outcome.used
    answer = None if used is None else used.answer
    if answer is not None and (found := used_words(answer, units)):
        yield Line(found, "bold")
    if not outcome.refused:
        yield Line(lengths_words(outcome, units, far_end))
    for words in reasons(shown(outcome.messages, refused=outcome.refused)):
        yield Line(words)
    if outcome.reading.marker_at_stop and answer is None:
        yield Line("The marker is at the far end: at least this much stroke was used, perhaps more.")
    if used is not None and used.refusal is not None:
        yield Line("Stroke used: not worked out. " + error_text(used.refusal))
    # What follows from a length that was not read is said by the reason already.
    if used is not None and answer is not None and used.asked and not outcome.messages:
        yield from map(Line, answer.withheld)


def note_lines(outcome: Outcome) -> Iterator[Line]:
    """Say what is good to know about one photo, and what to take care of."""
    used = outcome.used
    answer = None if used is None else used.answer
    if used is not None and answer is not None and (used.asked or answer.bound is not Bound.EXACT):
        yield from (Line(words, "dim") for words in answer.remarks)
    yield from (Line(_CAUTION + words, "yellow") for words in outcome.cautions)
    yield from (Line(words, "dim") for words in outcome.reading.remarks)
    if outcome.overlay is not None:
        yield Line(f"Drawn on {outcome.overlay}", "dim")


def lengths_words(outcome: Outcome, units: Units, far_end: str) -> str:
    """Write the lengths that were read in a sentence."""
    reading = outcome.reading
    parts = [
        f"{name} {'not read' if one is None else format_length(one.value_mm, units, u95_mm=one.u95_mm)}"
        for name, one in (
            ("exposed", reading.exposed),
            ("marker from seal", reading.marker),
            (f"remaining to {far_end}", reading.remaining),
        )
    ]
    words = "; ".join(parts)
    return f"{words[0].upper()}{words[1:]}."


def reasons(messages: Sequence[Message]) -> list[str]:
    """Write each reason once, after the lengths that it withholds."""
    names: dict[str, list[str]] = {}
    for message in messages:
        found = names.setdefault(message.text, [])
        if message.quantity is not None:
            found.append(QUANTITY_NAMES[message.quantity])
    joined = {
        text: [found[0], *(name[0].lower() + name[1:] for name in found[1:])]
        for text, found in names.items()
        if found
    }
    return [f"{'; '.join(joined[text])}: {text}" if text in joined else text for text in names]


def message_text(message: Message) -> str:
    """Write a reason and its advice, after the quantity that it withholds."""
    head = "" if message.quantity is None else QUANTITY_NAMES[message.quantity] + ": "
    return head + message.text


def _print(lines: Iterable[Line]) -> None:
    for line in lines:
        for part in wrapped(line.words, "  "):
            click.echo(_styled(part, line.style))


def _styled(text: str, style: str) -> str:
    looks: dict[str, dict[str, Any]] = {
        "yellow": {"fg": "yellow"},
        "bold": {"bold": True},
        "dim": {"dim": True},
    }
    return click.style(text, **looks[style]) if style else text

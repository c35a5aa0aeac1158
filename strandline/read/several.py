"""``--same``: several photos of one shaft, compared and combined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import Outcome
from strandline.read.stroke import cautions, used_stroke
from strandline.read.text import QUANTITY_NAMES
from strandline.shared.console import short_names
from strandline.shared.messages import Message, messages_for
from strandline.shared.wrapped import wrapped
from suspension.quantities.lengths import Units, format_length
from vision.errors import VisionError
from vision.names import LengthName

if TYPE_CHECKING:
    from vision.lengths.combine import Combined, Difference

TOGETHER = "together"
_VERDICT_TEXT = {
    "agree": "The photos agree: neither marker nor leg moved between them.",
    "marker_moved": "The marker moved between the photos: its lengths hold for each photo alone.",
    "leg_moved": "The leg moved in or out between the photos; the marker stayed where it was on the shaft.",
    "marker_and_leg_moved": "Marker or leg, or both, moved between the photos: they are not combined.",
    "nothing_common": "No length was read in two of the photos, so they could not be compared.",
}
_WITHHELD_ADVICE = "Take the photos again, one right after the other, without touching bike or marker."


@dataclass(frozen=True)
class Together:
    """Several photos as one.

    Attributes
    ----------
    outcome : Outcome
        As for a photo, named "together".
    combined : Combined
    names : tuple of str
        Of the photos, as given.
    """

    outcome: Outcome
    combined: Combined
    names: tuple[str, ...]


def put_together(outcomes: Sequence[Outcome], inputs: ReadInputs) -> Together:
    """Join the photos of one shaft.

    Parameters
    ----------
    outcomes : sequence of Outcome
    inputs : ReadInputs

    Returns
    -------
    Together

    Raises
    ------
    VisionError
        Copies of one photo, fewer than two that were read, or different cards.
    """
    from vision.lengths.combine import combine

    _refuse_copies(outcomes)
    combined = combine([outcome.reading for outcome in outcomes])
    reading = combined.reading
    used = used_stroke(reading, inputs)
    outcome = Outcome(
        name=TOGETHER,
        reading=reading,
        messages=(*_withheld(combined), *messages_for(reading)),
        used=used,
        cautions=cautions(reading, used, inputs.marker.width_mm),
    )
    return Together(outcome, combined, tuple(one.name for one in outcomes))


def _refuse_copies(outcomes: Sequence[Outcome]) -> None:
    seen: dict[str, str] = {}
    for outcome in outcomes:
        if outcome.sha256 is None:
            continue
        if outcome.sha256 in seen:
            raise VisionError(
                f"{outcome.name} is a copy of {seen[outcome.sha256]}: the same photo twice adds nothing.",
                "Take a second photo, from another position.",
            )
        seen[outcome.sha256] = outcome.name


def _withheld(combined: Combined) -> tuple[Message, ...]:
    verdict = combined.verdict.value
    if verdict in ("agree", "nothing_common"):
        return ()
    return tuple(
        Message(verdict, name, _VERDICT_TEXT[verdict], _WITHHELD_ADVICE)
        for name in QUANTITY_NAMES
        if combined.reading.length(name) is None
    )


def fields_together(together: Together) -> dict[str, Any]:
    """Make what the joint line of JSON says beside the lengths."""
    combined = together.combined
    return {
        "same": {
            "photos": list(together.names),
            "verdict": combined.verdict.value,
            "marker_moved": marker_moved(combined),
            "card_laid_anew": combined.card_repositioned,
            "differences": [
                {
                    "photos": [together.names[d.first], together.names[d.second]],
                    "quantity": d.quantity,
                    "difference_mm": d.difference_mm,
                    "u95": d.u95_mm,
                    "normalised": d.normalised,
                    "agrees": d.agrees,
                }
                for d in combined.differences
            ],
        }
    }


def marker_moved(combined: Combined) -> bool | None:
    """Whether the marker moved on the shaft; None where marker and leg cannot be separated."""
    return {"agree": False, "leg_moved": False, "marker_moved": True}.get(combined.verdict.value)


def show_together(together: Together, units: Units) -> None:
    """Print what the photos say of each other."""
    click.echo(click.style("The photos combined", bold=True))
    for line in sentences(together, units):
        for part in wrapped(line, "  "):
            click.echo(part)


def sentences(together: Together, units: Units) -> list[str]:
    """Write what moved, how much the photos differ, and which errors they share."""
    combined = together.combined
    lines = [_VERDICT_TEXT[combined.verdict.value]]
    names = short_names(together.names)
    worst: dict[LengthName, Difference] = {}
    for difference in combined.differences:
        kept = worst.get(difference.quantity)
        if kept is None or difference.normalised > kept.normalised:
            worst[difference.quantity] = difference
    for quantity, d in worst.items():
        within = "within" if d.agrees else "more than"
        lines.append(
            f"{QUANTITY_NAMES[quantity]}: {names[d.first]} and {names[d.second]} differ by "
            f"{format_length(abs(d.difference_mm), units, u95_mm=d.u95_mm)}, {within} their uncertainty "
            f"({d.normalised:.1f} of it)."
        )
    lines.append(
        "Errors of diameter, print scale and lens are the same in all photos and do not average out."
        + (
            ""
            if combined.card_repositioned
            else " Neither does the error of the card's depth: the card was not laid down again."
        )
    )
    return lines

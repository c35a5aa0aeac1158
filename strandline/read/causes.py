"""Why lengths were not read, in words: what is too uncertain names where its ± comes from, and what helps there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from strandline.read.sources import SOURCE_NAMES, how_to_halve
from strandline.shared.messages import Message, messages_for

if TYPE_CHECKING:
    from vision.reading import Reading


def causes(reading: Reading) -> tuple[Message, ...]:
    """Word all notes of a reading, the weightiest first."""
    from vision.lengths.budget import Source, budgets
    from vision.reasons import Reason
    from vision.shaft.scale_check import depth_remark

    messages = messages_for(reading)
    uncertain = Reason.UNCERTAIN.value
    if reading.joint is None or all(one.code != uncertain for one in messages):
        return messages
    source_of = {budget.quantity: budget.shares[0].source for budget in budgets(reading.joint)}
    focal = "" if reading.pose is None else reading.pose.focal_source
    disagree = reading.scale is not None and depth_remark(reading.scale) is not None
    worded = []
    for one in messages:
        source = None if one.quantity is None else source_of.get(one.quantity)
        if one.code == uncertain and disagree and source in (Source.DIAMETER, Source.PRINT, Source.CARD):
            what = f"{one.what.rstrip('.')}, since the card and the shaft's diameter disagree."
            one = replace(one, what=what, advice=Reason.SCALE_CONFLICT.advice)
        elif one.code == uncertain and source is not None:
            what = f"{one.what.rstrip('.')}, most of it from the {SOURCE_NAMES[source.value]}."
            one = replace(one, what=what, advice=how_to_halve(source, focal, reading.marker_hidden))
        worded.append(one)
    return tuple(worded)


def shown(messages: Sequence[Message], *, refused: bool) -> Sequence[Message]:
    """Choose what a person is shown: of a photo that was not read the cause that matters, for all its lengths."""
    return [replace(one, quantity=None) for one in messages[:1]] if refused else messages

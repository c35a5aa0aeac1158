"""The rider's answer in a sentence: the stroke used, and what is left."""

from __future__ import annotations

from strandline.shared.units import estimate_text, percent_text
from suspension.quantities.lengths import Units
from suspension.stroke.stroke import StrokeAnswer


def used_words(answer: StrokeAnswer, units: Units) -> str:
    """Write the rider's answer in a sentence; "" where there is none."""
    parts = []
    if answer.used_mm is not None:
        share = "" if answer.used_percent is None else f", {percent_text(answer.used_percent)}"
        parts.append(f"stroke used {estimate_text(answer.used_mm, units)}{share}")
    for name, left in (("bumper", answer.reserve_bumper_mm), ("hard stop", answer.reserve_hard_mm)):
        if left is not None:
            parts.append(f"left to the {name} {estimate_text(left, units)}")
    words = "; ".join(parts)
    return f"{words[0].upper()}{words[1:]}." if words else ""

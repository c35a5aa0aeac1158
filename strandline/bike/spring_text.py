"""The spring that would do as lines for a person, and as fields for JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

from strandline.facts.ends import EndFacts
from strandline.facts.spring_wanted import MORE_OIL_MM, SpringAnswer, springs_now
from suspension.quantities.lengths import Units, format_length


def answer_lines(
    facts: EndFacts, load: str, answer: SpringAnswer, left_out: Sequence[str], units: Units
) -> Iterator[str]:
    """Lines for a person."""
    yield f"{facts.end.value.capitalize()}, {load}"
    worst = answer.worst
    if worst is not None:
        yield (
            f"  Worst ride: {worst.ride}, {format_length(worst.used_mm, units)} used, {worst.load_factor:.1f} times "
            "the load at rest."
        )
    if answer.headroom is not None and answer.headroom.words:
        yield f"  {answer.headroom.words}"
    if answer.spring is not None and answer.sag_stroke_mm is not None and answer.depth_mm is not None:
        yield (
            f"  The spring for {format_length(answer.sag_stroke_mm, units)} of stroke with the rider aboard and "
            f"{format_length(answer.depth_mm, units)} at such a hit: {answer.spring.words}"
            f"{springs_now(facts)}."
        )
    elif worst is not None:
        yield (
            "  No spring worked out: it needs linear springs, use (for the usual range of sag) and the stroke in the "
            "bike's file."
        )
    if answer.oil:
        parts = ", ".join(f"{force:.0f} N at {format_length(stroke, units)}" for stroke, force in answer.oil)
        more = format_length(MORE_OIL_MM, units)
        yield f"  {more} more oil adds in each leg {parts}: it works near the end alone."
    yield from (f"  {words}" for words in answer.missing)
    yield from (f"  {words}" for words in left_out)


def answer_fields(
    facts: EndFacts, load: str, answer: SpringAnswer, left_out: Sequence[str]
) -> dict[str, Any]:
    """Fields for JSON; mm, N, N/mm."""
    return {
        "end": facts.end.value,
        "load": load,
        **dataclasses.asdict(answer),
        "left_out": list(left_out),
    }

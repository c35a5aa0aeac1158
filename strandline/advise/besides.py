"""What --explain says besides: sag at the counts, headroom, how the bike stands, left against right over time."""

from __future__ import annotations

from collections.abc import Iterator

from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.facts.legs_apart import legs_apart
from strandline.facts.spring_wanted import spring_answer
from strandline.shared.units import percent_text
from suspension.stroke.legs_over_time import LegsOverTime, legs_over_time


def besides(end: EndAdvice, case: CaseAdvice) -> Iterator[tuple[str, str]]:
    """Write each with its heading; what is not known is left out, or says which command sets it."""
    found = (
        ("sag", sag_words(case)),
        ("headroom", headroom_words(end, case)),
        ("stance", " ".join(case.stance)),
        ("legs", legs_words(end)),
    )
    yield from ((heading, words) for heading, words in found if words)


def sag_words(case: CaseAdvice) -> str:
    """Rider sag at today's count and at the one to set, against its window."""
    situation = case.situation
    if situation is None or not situation.sag_measured or situation.sag_window is None:
        return ""
    window = situation.sag_window
    parts: list[str] = []
    for count in dict.fromkeys((situation.now, None if case.step is None else case.step.count)):
        here = situation.at(count)
        if here is not None and here.rider_sag_percent is not None:
            where = f"at {situation.kind.place(here.count)}" if not parts else f"at {here.count:g}"
            parts.append(f"{percent_text(here.rider_sag_percent)} {where}, {situation.sag_at(count).value}")
    return f"rider sag {'; '.join(parts)} ({window.low:g} to {window.high:g} %)." if parts else ""


def headroom_words(end: EndAdvice, case: CaseAdvice) -> str:
    """How much harder a hit the travel has room for."""
    if case.situation is None or not case.rides:
        return ""
    seen = zip(case.rides, case.situation.rides, strict=True)
    answer = spring_answer(end.facts, case.load, [one for one, its in seen if its.flaw is None])
    if answer.headroom is None:
        return f"not known. {answer.missing[0]}" if answer.missing else ""
    return answer.headroom.words or "the worst ride is at the bumper or in it."


def legs_words(end: EndAdvice) -> str:
    """Left against right over all rides; a difference that lasts is a note of its own."""
    found = _legs(end)
    return "" if found is None or found.lasting else found.words


def lasting_difference(end: EndAdvice) -> str | None:
    """Say that one leg goes deeper over the rides, where that lasts."""
    found = _legs(end)
    return found.words if found is not None and found.lasting else None


def _legs(end: EndAdvice) -> LegsOverTime | None:
    return legs_over_time([apart for _, apart in legs_apart(end.log, end.facts.end)])

"""Advice as lines for a person: what to do first, then how sure, then why, then notes; 15 lines an end."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from strandline.advise.advice import EndAdvice
from strandline.advise.besides import besides
from strandline.advise.case import CaseAdvice
from strandline.advise.words import case_cautions, do, how_sure, notes, read, why
from strandline.shared.units import in_units
from strandline.shared.wrapped import wrapped
from suspension.advice.cautions import Caution
from suspension.advice.step import Action
from suspension.quantities.lengths import Units
from suspension.springs.adjuster import recount_steps

# Lines of an end [a choice: what is read at a glance].
MOST_LINES = 15
_MORE = "  More: --explain"
_MORE_OF_IT = "  More: strandline advise"
_NOTE, _READ = "Note: ", "Read: "
EXPLAIN = "--explain also shows sag, headroom, how the bike stands, left against right."
"""Last line of the short answer."""
_SENTENCE_END = re.compile(r"(?<=[.!?]) (?=[A-Z])")


def advice_lines(ends: Sequence[EndAdvice], units: Units, explain: bool = False) -> Iterator[str]:
    """Lines for a person: each end, without the cautions.

    Parameters
    ----------
    ends : sequence of EndAdvice
    units : Units
    explain : bool
        Everything, of every load; else 15 lines an end: the load ridden last in full, the others in a line.
    """
    for end in ends:
        yield from _end(end, units, explain)
        yield ""


def cautions_shown(ends: Sequence[EndAdvice], explain: bool = False) -> tuple[Caution, ...]:
    """Cautions that the loads shown in full give cause for, each once."""
    cases = (case for end in ends for case in (end.cases if explain else _in_full(end)))
    return tuple(dict.fromkeys(caution for case in cases for caution in case_cautions(case)))


def short_lines(end: EndAdvice, units: Units, room: int) -> list[str]:
    """Lines for a person who has just recorded a ride: what to do and why, for its load, in `room` lines.

    Parameters
    ----------
    end : EndAdvice
    units : Units
    room : int
        With the line that says where there is more.
    """
    short = [one for case in _in_full(end) for one in _case(end, case, units, explain=False)]
    return _as_many_as_fit([one for one in short if one.first not in (_READ, _NOTE)], room, _MORE_OF_IT)


def caution_lines(
    cautions: Sequence[Caution], said: Collection[Caution], own: Sequence[str] = ()
) -> Iterator[str]:
    """Lines for a person: the cautions, those that were said today in a line of their own without their words.

    Parameters
    ----------
    cautions : sequence of Caution
    said : collection of Caution
        Said earlier today.
    own : sequence of str
        Other cautions, which come first.
    """
    if not cautions and not own:
        return
    new = [one.value for one in cautions if one not in said]
    yield "Take care"
    for caution in (*own, *new):
        yield from wrapped(caution, "  ")
    if len(new) < len(cautions):
        words = "And as" if new or own else "As"
        yield from wrapped(f"{words} said earlier today (strandline advise --explain says it again).", "  ")


def _in_full(end: EndAdvice) -> list[CaseAdvice]:
    """Find the load that was ridden last; without a ride the first."""
    if not end.cases:
        return []
    ridden = [case for case in end.cases if case.rides]
    return [max(ridden, key=lambda case: case.rides[-1].ride.number, default=end.cases[0])]


def _end(end: EndAdvice, units: Units, explain: bool) -> list[str]:
    if explain:
        found: list[str] = []
        for case in end.cases:
            wrapped = (line for one in _case(end, case, units, explain) for line in one.lines)
            found += [*([""] if found else []), *wrapped]
        return found
    full = _in_full(end)
    others = [line for case in end.cases if case not in full for line in _in_a_line(end, case)]
    room = max(MOST_LINES - len(others), MOST_LINES // 2)
    lines = _as_many_as_fit([one for case in full for one in _case(end, case, units, explain)], room)
    left = MOST_LINES - len(lines)
    if len(others) > left:
        others = [*others[: max(0, left - 1)], *([_MORE] if _MORE not in lines else [])]
    return [*lines, *others][:MOST_LINES]


@dataclass(frozen=True)
class _Paragraph:
    words: str
    first: str = ""
    indent: str = "  "

    @property
    def lines(self) -> list[str]:
        return list(wrapped(f"{self.first}{self.words}" if self.words else "", self.indent))


def _as_many_as_fit(paragraphs: Sequence[_Paragraph], room: int, more: str = _MORE) -> list[str]:
    """Lines of all paragraphs; where they are more than `room`, of what fits, in whole sentences and whole notes."""
    every = [line for one in paragraphs for line in one.lines]
    if len(every) <= room:
        return every
    lines: list[str] = []
    for one in paragraphs:
        sentences = [one.words] if one.first == _NOTE else _SENTENCE_END.split(one.words)
        for number in range(len(sentences), 0, -1):
            fitting = replace(one, words=" ".join(sentences[:number])).lines
            if len(lines) + len(fitting) < room:
                lines += fitting
                break
    return [*lines, more]


def _case(end: EndAdvice, case: CaseAdvice, units: Units, explain: bool) -> list[_Paragraph]:
    """All paragraphs of a case."""
    found = [_Paragraph(_heading(end, case), indent="")]
    step = case.step
    if step is None:
        return [*found, *(_Paragraph(in_units(one, units)) for one in notes(end, case))]
    found.append(_Paragraph(do(end, case), "Do: "))
    if step.done is not None:
        done = "Done: " if step.action is Action.FOUND else "No further step: "
        found.append(_Paragraph(in_units(step.done, units), done))
    if case.rides:
        found.append(_Paragraph(" ".join(how_sure(case, units)), "How sure: "))
    found.append(_Paragraph(" ".join(why(case, units)), "Why: "))
    if case.rides:
        found.append(_Paragraph(read(case, units), _READ))
    if explain:
        found += _recount(case)
        found += [
            _Paragraph(in_units(words, units), f"{heading.capitalize()}: ")
            for heading, words in besides(end, case)
        ]
    found += [_Paragraph(in_units(note, units), _NOTE) for note in notes(end, case)]
    return found


def _heading(end: EndAdvice, case: CaseAdvice) -> str:
    where = f"{end.facts.end.value.capitalize()}, {case.load.name}"
    if not case.rides:
        said = "not ridden yet" if case.to_try is not None else "no setting yet"
        base = f", from the statics of {case.base}" if case.base else ""
        return f"{where}: {said}{base}"
    entry = case.rides[-1].ride.entry
    ride = [
        f"ride {case.rides[-1].ride.number}",
        entry.date.isoformat(),
        *([entry.route] if entry.route else []),
    ]
    return f"{where} ({', '.join(ride)})"


def _in_a_line(end: EndAdvice, case: CaseAdvice) -> list[str]:
    where = f"{end.facts.end.value.capitalize()}, {case.load.name}"
    rides = f"{len(case.rides)} {'ride' if len(case.rides) == 1 else 'rides'}"
    kind = None if case.facts.adjuster is None else case.facts.adjuster.kind
    if case.found is not None and kind is not None:
        said = f"found at {kind.place(case.found)}, {rides}"
    elif case.to_try is not None and kind is not None:
        said = f"try {kind.place(case.to_try)} ({rides if case.rides else 'not ridden yet'})"
    else:
        said = f"no setting yet; --load {case.load.name!r} says why"
    return list(wrapped(f"{where}: {said}."))


def _recount(case: CaseAdvice) -> list[_Paragraph]:
    situation, adjuster, step = case.situation, case.facts.adjuster, case.step
    if situation is None or adjuster is None or step is None:
        return []
    if not situation.now_in_doubt and step.action is not Action.COUNT:
        return []
    steps = recount_steps(adjuster, step.count, more=step.more, both_sides=case.facts.sides > 1)
    numbered = enumerate(steps, start=1)
    return [
        _Paragraph("How to count again:"),
        *(_Paragraph(f"{number}. {words}", indent="    ") for number, words in numbered),
    ]

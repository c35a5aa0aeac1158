"""Advice as lines for a person: what to do first, then how sure, then why, then notes; 15 lines an end."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from strandline.advise.advice import EndAdvice
from strandline.advise.case import CaseAdvice
from strandline.advise.words import case_cautions, do, how_sure, notes, read, why
from strandline.shared.messages import printable
from strandline.shared.units import in_units
from suspension.advice.cautions import Caution
from suspension.advice.step import Action
from suspension.quantities.lengths import Units
from suspension.springs.adjuster import recount_steps

# Characters of a line, and lines of an end [a choice: a terminal's usual width, and what is read at a glance].
WIDTH, MOST_LINES = 80, 15
_MORE = "  More: --explain"


def advice_lines(ends: Sequence[EndAdvice], units: Units, explain: bool = False) -> Iterator[str]:
    """Lines for a person: each end, and the cautions once at the end.

    Parameters
    ----------
    ends : sequence of EndAdvice
    units : Units
    explain : bool
        Everything, of every load; else 15 lines an end: the load ridden last in full, the others in a line.
    """
    cautions: dict[Caution, None] = {}
    for end in ends:
        yield from _end(end, units, explain)
        yield ""
        for case in end.cases if explain else _in_full(end):
            cautions.update(dict.fromkeys(case_cautions(case)))
    if cautions:
        yield "Take care"
        for caution in cautions:
            yield from _wrapped("  ", caution.value)


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
            found += [*([""] if found else []), *_case(end, case, units, explain)]
        return found
    full = _in_full(end)
    others = [line for case in end.cases if case not in full for line in _in_a_line(end, case)]
    room = max(MOST_LINES - len(others), MOST_LINES // 2)
    lines = [line for case in full for line in _case(end, case, units, explain)]
    if len(lines) > room:
        lines = [*lines[: room - 1], _MORE]
    left = MOST_LINES - len(lines)
    if len(others) > left:
        others = [*others[: max(0, left - 1)], *([_MORE] if _MORE not in lines else [])]
    return [*lines, *others][:MOST_LINES]


def _case(end: EndAdvice, case: CaseAdvice, units: Units, explain: bool) -> list[str]:
    """All paragraphs of a case, wrapped."""
    lines = list(_wrapped("", _heading(end, case), first=""))
    step = case.step
    if step is None:
        return [*lines, *(line for one in notes(end, case) for line in _wrapped("  ", in_units(one, units)))]
    lines += _wrapped("  ", do(end, case), first="Do: ")
    if step.done is not None:
        done = "Done: " if step.action is Action.FOUND else "No further step: "
        lines += _wrapped("  ", in_units(step.done, units), first=done)
    if case.rides:
        lines += _wrapped("  ", " ".join(how_sure(case, units)), first="How sure: ")
    lines += _wrapped("  ", " ".join(why(case, units)), first="Why: ")
    if case.rides:
        lines += _wrapped("  ", read(case, units), first="Read: ")
    if explain:
        lines += _recount(case)
    for note in notes(end, case):
        lines += _wrapped("  ", in_units(note, units), first="Note: ")
    return lines


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
    return list(_wrapped("", f"{where}: {said}."))


def _recount(case: CaseAdvice) -> list[str]:
    situation, adjuster, step = case.situation, case.facts.adjuster, case.step
    if situation is None or adjuster is None or step is None:
        return []
    if not situation.now_in_doubt and step.action is not Action.COUNT:
        return []
    lines = ["  How to count again:"]
    for number, words in enumerate(recount_steps(adjuster, step.count), start=1):
        lines += _wrapped("    ", f"{number}. {words}")
    return lines


def _wrapped(indent: str, words: str, first: str = "") -> Iterator[str]:
    """Wrap a paragraph with a hanging indent; nothing for an empty one."""
    if not words:
        return
    yield from textwrap.wrap(
        printable(f"{first}{words}"), WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  "
    )

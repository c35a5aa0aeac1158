"""The day in a terminal: counts that add up, each bike's deepest reading, and what is to be done, in one screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from strandline.day.output.amounts import Amounts
from strandline.day.output.text import (
    PHASES,
    counts_words,
    fix_words,
    heading,
    leg_words,
    short_verdict,
    to_do_words,
)
from strandline.day.results.results import BikeResult, DayResults
from strandline.day.results.to_do import EntrantToDo, ToDo, counts, to_do
from suspension.quantities.lengths import Units

WIDTH = 80
# Lines of each list: with counts, headings and where the page is, a terminal of 24 lines holds both.
MOST_BIKES, MOST_TO_DO = 8, 9
_LABEL = 14


def counts_line(day: DayResults) -> str:
    """Give the counts as one line: "20 photos: 15 read, 5 not read"."""
    (photos, what), *others = counts_words(counts(day))
    said = ", ".join(f"{number} {words}" for number, words in others)
    return f"{photos} {what}: {said}"


def summary(day: DayResults, page: Path, units: Units = Units.MM) -> Iterator[str]:
    """Say what a run over a day has found, in at most 24 lines.

    Parameters
    ----------
    day : DayResults
    page : Path
        Of the results.
    units : Units
    """
    bikes = len(day.bikes)
    yield f"{counts_line(day)}; {bikes} {'bike' if bikes == 1 else 'bikes'}."
    if not day.photos:
        yield "Put the photos into the folder, for example into its folder photos, and run this again."
    deepest = [(bike, line) for bike in day.bikes if (line := _deepest(bike, units))]
    yield from (_cut(f"  {_name(bike.label)} {line}") for bike, line in deepest[:MOST_BIKES])
    if len(deepest) > MOST_BIKES:
        yield f"  and {len(deepest) - MOST_BIKES} more bikes on the page"
    groups = to_do(day)
    if groups:
        yield f"{to_do_words(groups).capitalize()}:"
        lines = [_to_do_line(group, one) for group in groups for one in group.to_do]
        yield from map(_cut, lines[:MOST_TO_DO])
        if len(lines) > MOST_TO_DO:
            yield f"  and {len(lines) - MOST_TO_DO} more on the page"
    yield f"Page: {page}"
    yield "Sheets to hand out: sheets.html beside it."


def _deepest(bike: BikeResult, units: Units) -> str:
    known = [one for one in bike.legs if one.counted.used is not None]
    if not bike.legs:
        return ""
    if not known:
        return f"{len(bike.legs)} read, stroke used not known"
    one = max(
        known, key=lambda leg: (leg.counted.share or 0.0, leg.counted.used.value if leg.counted.used else 0)
    )
    used = Amounts(units).amount(one.counted.used)
    where = f"{leg_words(one.leg)} {PHASES[one.phase] if one.phase else ''}".strip()
    return f"{len(bike.legs)} read; deepest {where} {used} {units.value}, {short_verdict(one.counted)}"


def _to_do_line(group: EntrantToDo, one: ToDo) -> str:
    item = one.item
    leg = "" if item.leg is None else f"{leg_words(item.leg)} "
    where = f"{leg}{item.phase.value}".strip() or item.file.rpartition("/")[2]
    return f"  {_name(group.label or 'whose bike?')} {where}: {heading(item.code)}. {fix_words(one.fix)}."


def _name(label: str) -> str:
    return f"{label if len(label) <= _LABEL else label[: _LABEL - 1] + '…':<{_LABEL}}"


def _cut(line: str) -> str:
    """Shorten a line to the terminal at a blank: no word is broken."""
    return line if len(line) <= WIDTH else line[: WIDTH - 1].rpartition(" ")[0] + "…"

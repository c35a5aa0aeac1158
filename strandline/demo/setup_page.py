"""The page of the demo's invented bike: the answer first, then rides, a chart an end, and other owners last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from strandline.advise.advice import EndAdvice, whole_bike
from strandline.advise.case import CaseAdvice
from strandline.facts.rides import gather
from strandline.shared.storage import bike_read, opened
from strandline.shared.units import estimate_text
from suspension.loads.limits import LoadVerdict
from suspension.quantities.lengths import Units
from suspension.springs.adjuster import AdjusterKind
from suspension.stroke.verdict import judge_used

_ONE = {AdjusterKind.TURNS: "turn", AdjusterKind.CLICKS: "click", AdjusterKind.POSITIONS: "position"}


@dataclass(frozen=True)
class Chart:
    """A chart's picture, PNG, and what it shows."""

    name: str
    content: bytes


@dataclass(frozen=True)
class RideRow:
    """One ride: its number, day, load, and for each end the count and how deep it went."""

    number: int
    date: str
    load: str
    ends: tuple[tuple[str, str, str], ...]


def setup_page(
    output: Path, logbook: Path, bike: str, runs: Sequence[tuple[str, str]], units: Units = Units.MM
) -> str:
    """Write the page; it fetches nothing.

    Parameters
    ----------
    output : Path
        The demo's folder; charts lie in its folder ``charts``.
    logbook : Path
    bike : str
    runs : sequence of (str, str)
        Commands, and what each said.
    units : Units
    """
    with opened(logbook, create=False) as book:
        log = gather(book, bike_read(logbook, bike).bike)
        ends = whole_bike(book, log)
    charts = {path.stem: path.read_bytes() for path in sorted((output / "charts").glob("*.png"))}
    return render(log.bike.name, ends, charts, runs, units)


def render(
    name: str,
    ends: Sequence[EndAdvice],
    charts: Mapping[str, bytes],
    runs: Sequence[tuple[str, str]],
    units: Units = Units.MM,
) -> str:
    """Write the page of a bike from the advice on its ends, its charts by name (PNG), and what the commands said."""
    from strandline.shared.html import data_uri, environment

    named = {chart: Chart(chart.replace("-", ", "), content) for chart, content in charts.items()}
    templates = environment(__package__, {"png": lambda content: data_uri(content, "image/png")})
    return templates.get_template("setup.html").render(
        bike=name,
        answers=answers(ends),
        end_names=[end.facts.end.value.capitalize() for end in ends],
        rides=ride_rows(ends, units),
        main=[chart for name, chart in named.items() if name.endswith("-used")],
        owners=[chart for name, chart in named.items() if name.endswith("-owners")],
        more=[chart for name, chart in named.items() if not name.endswith(("-used", "-owners"))],
        lines="\n\n".join(f"$ {words}\n{said.rstrip()}" for words, said in runs).split("\n"),
    )


def answers(ends: Sequence[EndAdvice]) -> list[str]:
    """Say for each load in a sentence what is found, or where to begin; those that were ridden come first."""
    loads = dict.fromkeys(case.load.name for end in ends for case in end.cases)
    cases = {
        name: [(end, case) for end in ends for case in end.cases if case.load.name == name] for name in loads
    }
    ridden = [name for name, those in cases.items() if any(case.ridden for _, case in those)]
    found = [_ridden_answer(name, cases[name], alone=len(ridden) == 1) for name in ridden]
    return found + [_new_answer(name, those) for name, those in cases.items() if name not in ridden]


def _ridden_answer(name: str, cases: Sequence[tuple[EndAdvice, CaseAdvice]], *, alone: bool) -> str:
    said = []
    if all(case.found is not None for _, case in cases):
        counts = ", ".join(f"{end.facts.end.value} {_count(end, case.found)}" for end, case in cases)
        said.append(f"{counts}: found.")
    else:
        for end, case in cases:
            where = end.facts.end.value
            if case.found is not None:
                said.append(f"{where} {_count(end, case.found)}: found.")
            elif case.to_try is not None:
                said.append(f"{where}: try {_count(end, case.to_try)}.")
    text = " ".join(part[0].upper() + part[1:] for part in said)
    return text if alone else f"{name.capitalize()}: {text}"


def _new_answer(name: str, cases: Sequence[tuple[EndAdvice, CaseAdvice]]) -> str:
    if any(case.load.verdict is LoadVerdict.OVER for _, case in cases):
        return f"{name.capitalize()}: over the limit of an axle. Take load off."
    counts = [f"{case.to_try:g}" for _, case in cases if case.to_try is not None]
    if len(counts) < len(cases):
        return f"{name.capitalize()}: no setting yet."
    return f"{name.capitalize()}: begin with {' and '.join(counts)}."


def _count(end: EndAdvice, count: float | None) -> str:
    assert count is not None
    kind = None if end.facts.adjuster is None else end.facts.adjuster.kind
    word = "" if kind is None else f" {_ONE[kind]}{'' if count == 1 else 's'}"
    return f"{count:g}{word}"


def ride_rows(ends: Sequence[EndAdvice], units: Units) -> list[RideRow]:
    """List the rides, the newest first."""
    numbers = sorted({one.ride.number for end in ends for one in end.rides}, reverse=True)
    rows = []
    for number in numbers:
        cells = []
        for end in ends:
            one = next((ride for ride in end.rides if ride.ride.number == number), None)
            if one is None:
                cells.append(("–", "–", ""))
                continue
            used = "–" if one.used_mm is None else estimate_text(one.used_mm, units)
            verdict = judge_used(one.used_mm, end.facts.bumper_met_mm, end.facts.hard_stop_mm)
            count = "–" if one.up is None else _count(end, one.up)
            band = (
                verdict.band.value if verdict.band is not None else "between bands" if verdict.bands else ""
            )
            cells.append((count, used, band))
            ride = one
        rows.append(RideRow(number, ride.ride.entry.date.strftime("%d %b"), ride.load, tuple(cells)))
    return rows

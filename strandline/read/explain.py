"""``--explain``: where a reading's ± comes from, in words and numbers, and what would halve it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TextIO

from strandline.read.one_photo import Outcome
from strandline.read.sources import SOURCE_NAMES, how_to_halve
from strandline.shared.console import console_for, short_names
from strandline.shared.units import MM_PER_IN
from suspension.quantities.lengths import Units
from vision.names import LengthName

if TYPE_CHECKING:
    from rich.table import Table

    from vision.lengths.budget import Budget, Share, Source
    from vision.reading import Reading

# A source below this share of the variance, in every length, is not worth anybody's trouble: halving it takes less
# than a hundredth off the ±.
WORTH_TELLING = 0.02
LENGTH_NAMES = {
    LengthName.EXPOSED: "Exposed",
    LengthName.MARKER: "Marker from seal",
    LengthName.REMAINING: "Remaining to far end",
}


def budgets_of(reading: Reading) -> tuple[Budget, ...]:
    """Budgets of the lengths that were answered."""
    if reading.joint is None:
        return ()
    from vision.lengths.budget import budgets

    return tuple(b for b in budgets(reading.joint) if reading.length(b.quantity) is not None)


def as_fields(outcome: Outcome) -> dict[str, Any]:
    """Make the budgets for JSON: ``{"budget": {"exposed_mm": {...}, ...}}``, all in mm."""
    focal, hidden = _focal_source(outcome), outcome.reading.marker_hidden
    return {
        "budget": {
            budget.quantity.field: {
                "u95": budget.u95_mm,
                "sources": [
                    {
                        "source": share.source.value,
                        "u95": share.u95_mm,
                        "whole_if_halved": share.whole_if_halved_mm,
                        "how_to_halve": how_to_halve(share.source, focal, hidden),
                    }
                    for share in budget.shares
                ],
                "to_halve": [source.value for source in budget.to_halve],
            }
            for budget in budgets_of(outcome.reading)
        }
    }


def show_budgets(outcomes: Sequence[Outcome], units: Units, out: TextIO | None = None) -> None:
    """Print where each reading's ± comes from.

    Parameters
    ----------
    outcomes : sequence of Outcome
    units : Units
    out : text file, optional
        Standard output where not given.
    """
    console = console_for(out or sys.stdout)
    for outcome, name in zip(outcomes, short_names([one.name for one in outcomes]), strict=True):
        found = budgets_of(outcome.reading)
        if not found:
            continue
        from rich.text import Text

        console.print()
        console.print(Text(f"Where the ± of {name} comes from", style="bold"))
        console.print(_table(found, units))
        for line in sentences(found, _focal_source(outcome), units, outcome.reading.marker_hidden):
            console.print(Text(line))


def sentences(
    found: Sequence[Budget], focal_source: str, units: Units, marker_hidden: bool = False
) -> list[str]:
    """How to read the table, what halving each length takes, and how to go about it."""
    lines = ["Each number is the ± from this source alone. The squares add up to the square of the total."]
    sources: list[Source] = []
    for budget in found:
        first = budget.shares[0]
        names = [SOURCE_NAMES[source.value] for source in budget.to_halve]
        whole = (
            "this source must shrink to a quarter"
            if len(names) == 1
            else "all of these must shrink to a quarter"
        )
        lines.append(
            f"{LENGTH_NAMES[budget.quantity]}: half the ± from the {SOURCE_NAMES[first.source.value]} turns "
            f"± {_number(budget.u95_mm, units)} into ± {_number(first.whole_if_halved_mm, units)} {units}. For "
            f"± {_number(budget.u95_mm / 2, units)} {units} {whole}: {', '.join(names)}."
        )
        sources += [source for source in budget.to_halve if source not in sources]
    how: dict[str, list[str]] = {}
    for source in sources:
        how.setdefault(how_to_halve(source, focal_source, marker_hidden), []).append(
            SOURCE_NAMES[source.value]
        )
    for words, names in how.items():
        joined = ", ".join(names)
        lines.append(f"{joined[0].upper()}{joined[1:]}: {words}")
    return lines


def _table(found: Sequence[Budget], units: Units) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("Source", overflow="fold")
    for budget in found:
        table.add_column(f"{LENGTH_NAMES[budget.quantity]}, ± {units}", justify="right")
    by_source = [{share.source: share for share in budget.shares} for budget in found]
    for source in _worth_telling(found):
        table.add_row(SOURCE_NAMES[source.value], *(_cell(shares.get(source), units) for shares in by_source))
    rest = [
        sum(share.u95_mm**2 for share in budget.shares if share.source not in _worth_telling(found)) ** 0.5
        for budget in found
    ]
    table.add_row("everything else", *(_number(one, units) for one in rest))
    table.add_row("total", *(_number(budget.u95_mm, units) for budget in found), style="bold")
    return table


def _worth_telling(found: Sequence[Budget]) -> list[Source]:
    """List the sources that matter to some length, the weightiest first."""
    weight: dict[Source, float] = {}
    for budget in found:
        for share in budget.shares:
            part = (share.u95_mm / max(budget.u95_mm, 1e-12)) ** 2
            weight[share.source] = max(weight.get(share.source, 0.0), part)
    return sorted((s for s, w in weight.items() if w >= WORTH_TELLING), key=lambda s: -weight[s])


def _cell(share: Share | None, units: Units) -> str:
    return "–" if share is None else _number(share.u95_mm, units)


def _number(mm: float, units: Units) -> str:
    return f"{mm:.2f}" if units is Units.MM else f"{mm / MM_PER_IN:.4f}"


def _focal_source(outcome: Outcome) -> str:
    return "" if outcome.reading.pose is None else outcome.reading.pose.focal_source

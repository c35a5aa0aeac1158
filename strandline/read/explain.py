"""``--explain``: where a reading's ± comes from, in words and numbers, and what would halve it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TextIO

from strandline.read.one_photo import Outcome
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
SOURCE_NAMES = {
    "card_corners": "card's corners in the photo",
    "print_scale": "card's print scale",
    "diameter": "shaft's diameter",
    "focal_length": "focal length",
    "distortion": "lens distortion",
    "lens_axis": "where the lens axis meets the photo",
    "card_depth_and_turn": "card's depth and turn beside the shaft",
    "card_bend": "card's bend",
    "silhouettes": "shaft's two silhouettes",
    "axis_by_hand": "shaft's middle, set by hand",
    "seal": "seal's edge",
    "marker": "marker's edge",
    "marker_height_and_tilt": "marker's height and tilt",
    "far_end": "far end's edge",
}
_EDGE = "Wipe the edge, light it from where you stand so that no shadow lies on it, and come closer."
_LENS = "Have shaft and card in the middle of the photo, whole and not cropped, and use the main or the longer lens."
HOW_TO_HALVE = {
    "card_corners": "Come closer, or use the phone's full resolution, until the card is twice as large in pixels.",
    "print_scale": "Measure the 100 mm bar with a caliper and give its uncertainty: --print-scale '0.998 ± 0.0005'.",
    "diameter": "Measure the shaft with a caliper at several places, or with a micrometer, and give the uncertainty: "
    "--shaft '41.02 ± 0.02 mm'.",
    "focal_length": "Take the photo from twice as far away with a lens twice as long: depth then matters half as much.",
    "distortion": _LENS,
    "lens_axis": _LENS,
    "card_depth_and_turn": "Take four photos, laying the card down again for each, level with the shaft's centre "
    "line, and read them with --same; or measure the diameter more accurately.",
    "card_bend": "Stick the card on something stiff and flat, and state the phone's main lens.",
    "silhouettes": "Put a plain sheet in a contrasting colour behind the shaft, use more light, and come closer.",
    "axis_by_hand": "Put a plain sheet behind the shaft so that both its edges stand out and are found.",
    "seal": _EDGE,
    "marker": _EDGE,
    "marker_height_and_tilt": "Hold the phone level with the marker and straight in front of it, and set the marker "
    "square to the shaft.",
    "far_end": _EDGE,
}
# Without a focal length in the file, that is what to fix first.
_STATE_FOCAL = "Use the photo as the phone wrote it, or give --focal-35mm from the phone's data sheet."
# Where the marker's seal-side edge is hidden, light on it helps nobody.
_SHOW_MARKER = (
    "Measure the band's width with a caliper and give it with --marker-width, or move so that nothing blocks the "
    "view."
)


def how_to_halve(source: Source, focal_source: str, marker_hidden: bool = False) -> str:
    """Say how to halve a source, in a sentence or two."""
    if source.value == "focal_length" and focal_source == "assumed":
        return _STATE_FOCAL
    if source.value == "marker" and marker_hidden:
        return _SHOW_MARKER
    return HOW_TO_HALVE[source.value]


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

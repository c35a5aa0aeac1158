"""The table that a person reads, and what stands under it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, TextIO

from strandline.read.one_photo import Outcome
from strandline.shared.console import console_for, short_names
from strandline.shared.messages import Message, error_text, printable
from strandline.shared.units import estimate_text, percent_text
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Bound
from vision.names import LengthName

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from vision.reading import Length

STATUS_NAMES = {"read": "read", "partial": "partly read", "refused": "not read"}
# "143.6 ± 0.4" and "5.654 ± 0.016" stay on one line however narrow the terminal is.
_NUMBER_WIDTH = {Units.MM: 11, Units.IN: 13}
_STATUS_STYLES = {"read": "bold green", "partial": "bold yellow", "refused": "bold red"}
QUANTITY_NAMES = {
    LengthName.EXPOSED: "Exposed length",
    LengthName.MARKER: "Marker's distance from the seal",
    LengthName.REMAINING: "Remaining length, marker to far end",
}


def show(
    outcomes: Sequence[Outcome],
    assumed: Sequence[str],
    units: Units,
    far_end: str,
    out: TextIO | None = None,
) -> None:
    """Print the outcomes.

    Parameters
    ----------
    outcomes : sequence of Outcome
    assumed : sequence of str
        What was assumed about all of them.
    units : Units
    far_end : str
        Its name: lower clamp, axle foot or bumper.
    out : text file, optional
        Standard output where not given.
    """
    console = console_for(out or sys.stdout)
    names = short_names([outcome.name for outcome in outcomes])
    console.print(lengths_table(outcomes, names, units, far_end))
    console.print()
    if any(_has_estimate(outcome) for outcome in outcomes):
        console.print(used_table(outcomes, names, units))
        console.print()
    for outcome, name in zip(outcomes, names, strict=True):
        _tell(console, outcome, name)
    if any(outcome.used is None and not outcome.refused for outcome in outcomes):
        console.print(
            "Give --extended, the exposed length with the wheel hanging free, to get the stroke used."
        )
    if any(not outcome.refused for outcome in outcomes):
        console.print("± is the 95 % uncertainty.", style="dim")
        if assumed:
            console.print("Assumed:", style="dim")
            for line in assumed:
                _bullet(console, printable(line), style="dim")


def lengths_table(outcomes: Sequence[Outcome], names: Sequence[str], units: Units, far_end: str) -> Table:
    """Lengths of all photos, one a row."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("Photo", overflow="fold")
    for heading in ("Exposed", "Marker from seal", f"Remaining to {far_end}"):
        table.add_column(f"{heading}, {units}", justify="right", min_width=_NUMBER_WIDTH[units])
    table.add_column("Card", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for outcome, name in zip(outcomes, names, strict=True):
        reading = outcome.reading
        status = Text(STATUS_NAMES[reading.status.value], style=_STATUS_STYLES[reading.status.value])
        if reading.marker_at_stop:
            status.append(", at stop", style="bold yellow")
        table.add_row(
            Text(name),
            *(_length(one, units) for one in (reading.exposed, reading.marker, reading.remaining)),
            "–" if reading.card is None else str(reading.card),
            status,
        )
    return table


def used_table(outcomes: Sequence[Outcome], names: Sequence[str], units: Units) -> Table:
    """Stroke used and what is left, one photo a row."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    answers = [None if one.used is None else one.used.answer for one in outcomes]
    shock = any(answer is not None and answer.reserve_bumper_mm is not None for answer in answers)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("Photo", overflow="fold")
    narrow = _NUMBER_WIDTH[units]
    table.add_column(f"Stroke used, {units}", justify="right", min_width=narrow)
    table.add_column("Of the stroke, %", justify="right")
    if shock:
        table.add_column(f"Left to the bumper, {units}", justify="right", min_width=narrow)
    table.add_column(f"Left to the hard stop, {units}", justify="right", min_width=narrow)
    for outcome, answer, name in zip(outcomes, answers, names, strict=True):
        if not _has_estimate(outcome):
            continue
        used, percent, bumper, hard = (
            (None,) * 4
            if answer is None
            else (answer.used_mm, answer.used_percent, answer.reserve_bumper_mm, answer.reserve_hard_mm)
        )
        cells = [estimate_text(used, units), percent_text(percent)]
        if shock:
            cells.append(estimate_text(bumper, units))
        cells.append(estimate_text(hard, units))
        table.add_row(Text(name), *(_cell(cell, units) for cell in cells))
    return table


def _cell(text: str, units: Units) -> str:
    """Write a value without its unit, which the column's head names, and a bound on a line of its own."""
    text = text.removesuffix(f" {units}").removesuffix(" %")
    for bound in (Bound.AT_LEAST, Bound.AT_MOST):
        text = text.replace(f"{bound} ", f"{bound}\n")
    return text


def _has_estimate(outcome: Outcome) -> bool:
    """Whether the rider's question has any answer; why not stands among the remarks."""
    answer = None if outcome.used is None else outcome.used.answer
    return answer is not None and any(
        one is not None for one in (answer.used_mm, answer.reserve_bumper_mm, answer.reserve_hard_mm)
    )


def _length(length: Length | None, units: Units) -> str:
    if length is None:
        return "–"
    return format_length(length.value_mm, units, u95_mm=length.u95_mm).removesuffix(f" {units}")


def _tell(console: Console, outcome: Outcome, name: str) -> None:
    """Print what there is to say about one photo."""
    lines: list[tuple[str, str]] = [(message_text(message), "") for message in outcome.messages]
    used = outcome.used
    if outcome.reading.marker_at_stop and (used is None or used.answer is None):
        lines.append(("The marker is at the far end: at least this much stroke was used, perhaps more.", ""))
    if used is not None and used.refusal is not None:
        lines.append(("Stroke used: not worked out. " + error_text(used.refusal), ""))
    if used is not None and used.asked and used.answer is not None:
        lines += [(line, "") for line in used.answer.withheld]
    if used is not None and used.answer is not None and (used.asked or used.answer.bound is not Bound.EXACT):
        lines += [(line, "dim") for line in used.answer.remarks]
    lines += [(line, "yellow") for line in outcome.cautions]
    lines += [(line, "dim") for line in (*outcome.assumed, *outcome.reading.remarks)]
    if outcome.overlay is not None:
        lines.append((f"Drawn on {outcome.overlay}", "dim"))
    if not lines:
        return
    from rich.text import Text

    console.print(Text(name, style="bold"))
    for line, style in lines:
        _bullet(console, printable(line), style=style)
    console.print()


def message_text(message: Message) -> str:
    """Write a reason and its advice, after the quantity that it withholds."""
    head = "" if message.quantity is None else QUANTITY_NAMES[message.quantity] + ": "
    return head + message.text


def _bullet(console: Console, line: str, style: str = "") -> None:
    """One sentence or two, hanging under its bullet."""
    from rich.padding import Padding
    from rich.table import Table

    row = Table.grid(padding=(0, 1))
    row.add_row("•", _text(line, style))
    console.print(Padding(row, (0, 0, 0, 2)))


def _text(line: str, style: str) -> Text:
    from rich.text import Text

    return Text(line, style=style)

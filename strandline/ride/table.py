"""The rides as a table: one line a ride, at 80 columns too."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence

from ridelog.bikes.bike import Bike
from ridelog.names import Confidence, End
from ridelog.storage.records import Ride
from strandline.facts.readings import answer_for
from strandline.ride.text import felt_text
from strandline.shared.console import console_for
from strandline.shared.messages import printable
from suspension.quantities.lengths import Units, format_length
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.stroke import StrokeAnswer

_SIGNS = {Bound.AT_LEAST: "≥ ", Bound.AT_MOST: "≤ "}
# What gives way where the line is too long for the terminal; numbers never do.
_GIVES_WAY = ("Bike", "Route", "Load", "Felt")
# Columns that a heading and the start of a word need.
_LEAST = 5


def show_rides(rides: Sequence[Ride], bikes: Mapping[str, Bike], units: Units) -> None:
    """Print the rides, one a line; `bikes` maps each ride's version of its bike.

    Words that find no room end in an ellipsis, columns in which no ride has anything are left out, and so is the bike
    where all rides are of one.
    """
    from rich import box
    from rich.cells import cell_len
    from rich.table import Table
    from rich.text import Text

    rows = [_cells(ride, bikes[ride.entry.bike_version_id], units) for ride in rides]
    one_bike = len({ride.bike.name for ride in rides}) == 1
    headings = [
        name for name in rows[0] if any(row[name] for row in rows) and not (one_bike and name == "Bike")
    ]
    console = console_for(sys.stdout)
    widths = {name: max(len(name), *(cell_len(row[name]) for row in rows)) for name in headings}
    _shrink(widths, console.width)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, collapse_padding=True)
    for name in headings:
        table.add_column(name, no_wrap=True, overflow="ellipsis", width=widths[name])
    for row in rows:
        table.add_row(*(Text(printable(row[name]) or "–") for name in headings))
    if one_bike:
        console.print(Text(printable(rides[0].bike.name), style="bold"))
    console.print(table)
    console.print(Text("Preload: stroke used, ± 95 %. The whole ride: strandline ride show NUMBER"))


def _shrink(widths: dict[str, int], columns: int) -> None:
    """Take from the widest column that gives way, until all fit with two spaces between them."""
    while sum(widths.values()) + 2 * (len(widths) - 1) > columns:
        widest = max(
            (name for name in widths if name in _GIVES_WAY), key=lambda name: widths[name], default=""
        )
        if not widest or widths[widest] <= _LEAST:
            return
        widths[widest] -= 1


def _cells(ride: Ride, bike: Bike, units: Units) -> dict[str, str]:
    cells = {
        "Ride": f"{ride.number}{' withdrawn' if ride.withdrawn else ''}",
        "Date": ride.entry.date.isoformat(),
        "Bike": ride.bike.name,
        "Route": ride.entry.route or "",
        "Load": "" if ride.load_case is None else ride.load_case.name,
    }
    for end in End:
        parts = (_preload(ride, end), _used(ride, bike, end, units))
        cells[f"{end.value.capitalize()}, {units.value}"] = " ".join(part for part in parts if part)
    return {**cells, "Felt": felt_text(ride.entry)}


def _preload(ride: Ride, end: End) -> str:
    """Give the counts of an end's preload, alike ones once: "3:"."""
    counts = dict.fromkeys(
        ("?" if one.count is None else f"{one.count:g}")
        + ("?" if one.count is not None and one.confidence is Confidence.IN_DOUBT else "")
        for one in ride.settings
        if one.leg.end is end and one.adjuster == "preload"
    )
    return "/".join(counts) + ":" if counts else ""


def _used(ride: Ride, bike: Bike, end: End, units: Units) -> str:
    """Give the stroke used of an end; of several readings the one of the largest stroke."""
    answers = [answer_for(one, bike) for one in ride.readings if one.leg.end is end]
    used = [one.used_mm for one in answers if isinstance(one, StrokeAnswer) and one.used_mm is not None]
    return _short(max(used, key=lambda one: one.value), units) if used else ""


def _short(length: Quantity, units: Units) -> str:
    text = format_length(length.value, units, u95_mm=length.u95)
    return _SIGNS.get(length.bound, "") + text.removesuffix(f" {units.value}")

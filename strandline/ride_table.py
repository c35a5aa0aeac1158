"""The rides as a table."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence

from logbook.bike import Bike
from logbook.names import Confidence
from logbook.records import Ride
from strandline.messages import printable
from strandline.ride_text import answer_for
from strandline.table import console_for, estimate_text
from suspension.quantities import Units
from suspension.stroke import StrokeAnswer


def show_rides(rides: Sequence[Ride], bikes: Mapping[str, Bike], units: Units) -> None:
    """Print the rides, one a row; `bikes` maps each ride's version of its bike."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in ("Ride", "Date", "Bike", "Route", "Load", "Settings", "Stroke used", "Felt"):
        table.add_column(heading, overflow="fold", no_wrap=heading in ("Ride", "Date"))
    for ride in rides:
        cells = (
            f"{ride.number}{' withdrawn' if ride.withdrawn else ''}",
            ride.entry.date.isoformat(),
            ride.bike.name,
            ride.entry.route or "–",
            "–" if ride.load_case is None else ride.load_case.name,
            _settings(ride),
            _used(ride, bikes[ride.entry.bike_version_id], units),
            ", ".join(ride.entry.felt) or "–",
        )
        table.add_row(*(Text("\n".join(printable(line) for line in cell.split("\n"))) for cell in cells))
    console_for(sys.stdout).print(table)


def _settings(ride: Ride) -> str:
    lines = [
        f"{one.leg.value} {one.adjuster} {'?' if one.count is None else f'{one.count:g}'}"
        + ("?" if one.confidence is Confidence.IN_DOUBT else "")
        for one in ride.settings
    ]
    return "\n".join(lines) or "–"


def _used(ride: Ride, bike: Bike, units: Units) -> str:
    lines = []
    for reading in ride.readings:
        answer = answer_for(reading, bike)
        used = answer.used_mm if isinstance(answer, StrokeAnswer) else None
        lines.append(f"{reading.leg.value} {estimate_text(used, units)}")
    return "\n".join(lines) or "–"

"""``strandline ride legs``: left against right, ride by ride."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, end_option, json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "legs",
    epilog="Example: strandline ride legs --bike grey-twin --end front",
    short_help="Compare left and right over time.",
)
@bike_option
@end_option
@units_option()
@logbook_option
@json_option
def command(bike: str, end: str | None, units: str, logbook_path: Path | None, as_json: bool) -> None:
    """Compare the stroke used of the left and the right leg, ride by ride, and say whether a difference lasts.

    Rides with a reading of one side only are left out.
    """
    from ridelog.names import End
    from strandline.facts.legs_apart import legs_apart
    from strandline.facts.rides import gather
    from strandline.shared.storage import bike_read
    from strandline.shared.units import in_units
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units, format_length
    from suspension.stroke.legs_over_time import legs_over_time

    found = []
    with opened(logbook_path, create=False) as logbook:
        log = gather(logbook, bike_read(logbook_path, bike).bike)
        for one in End if end is None else (End(end),):
            rows = legs_apart(log, one)
            summary = legs_over_time([apart for _, apart in rows])
            if summary is not None:
                found.append((one, rows, summary))
    if as_json:
        ends = [
            {
                "end": one.value,
                "rides": [
                    {"ride": ride.number, "left_less_right_mm": apart.value, "u95_mm": apart.u95}
                    for ride, apart in rows
                ],
                "mean_mm": summary.mean_mm.value,
                "u95_mm": summary.mean_mm.u95,
                "lasting": summary.lasting,
                "words": summary.words,
            }
            for one, rows, summary in found
        ]
        click.echo(json.dumps({"ends": ends}))
        return
    for one, rows, summary in found:
        click.echo(f"{one.value.capitalize()}, left less right")
        for ride, apart in rows:
            shown = format_length(apart.value, Units(units), u95_mm=apart.u95)
            say_lines(f"  ride {ride.number}, {ride.entry.date.isoformat()}: {shown}")
        say_lines(f"  {in_units(summary.words, Units(units))}")
    if not found:
        click.echo("No ride has a reading of both sides.")

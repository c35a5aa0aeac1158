"""``strandline advise``: what to change next, why, what to expect of it, and when to stop."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, end_option, json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "advise",
    epilog="Example: strandline advise --bike grey-twin --end rear",
    short_help="Say what to change next, why, and when you are done.",
)
@bike_option
@end_option
@click.option("--load", "name", metavar="NAME", help="Only this load.")
@click.option("--explain", is_flag=True, help="Everything: all loads in full, all notes, how to count again.")
@units_option()
@logbook_option
@json_option
def command(
    bike: str,
    end: str | None,
    name: str | None,
    explain: bool,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Give the next step for each end and load, from the rides, the sag and the loads in the logbook.

    Rider sag comes first; then the softest count at which at most 1 ride in 10 reaches the bumper. Counts are up from
    the soft end, the same on both sides. The load ridden last is shown in full, others in a line; a load that was
    never ridden starts from its weight.
    """
    import datetime as dt

    from ridelog.names import End
    from strandline.advise.asked import ends_asked
    from strandline.advise.fields import advice_fields
    from strandline.advise.said_today import SaidToday
    from strandline.advise.text import EXPLAIN, advice_lines, caution_lines, cautions_shown
    from strandline.shared.storage import bike_read, place
    from suspension.quantities.lengths import Units

    with opened(logbook_path, create=False) as logbook:
        its = bike_read(logbook_path, bike).bike
        ends = ends_asked(logbook, its, None if end is None else End(end), name)
    if as_json:
        click.echo(json.dumps({"bike": its.name, "ends": [advice_fields(one) for one in ends]}))
        return
    cautions, today = cautions_shown(ends, explain), SaidToday(place(logbook_path), dt.date.today())
    said = () if explain else [one for one in cautions if today.includes(one)]
    lines = [*advice_lines(ends, Units(units), explain), *caution_lines(cautions, said)]
    click.echo("\n".join(lines if explain else [*lines, *([""] if cautions else []), EXPLAIN]))
    today.note(cautions)

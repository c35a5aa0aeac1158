"""``strandline bike spring``: the spring that would do, the headroom, and what a higher oil level would."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import end_option, json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "spring",
    epilog="Example: strandline bike spring grey-twin --load solo",
    short_help="Work out the spring that would do, from sag and rides.",
)
@click.argument("bike", default="")
@click.option("--load", metavar="NAME", help="Only this load.")
@end_option
@units_option()
@logbook_option
@json_option
def command(
    bike: str, load: str | None, end: str | None, units: str, logbook_path: Path | None, as_json: bool
) -> None:
    """Work out the spring that would do for a load: where preload cannot give both the sag and the depth wanted.

    The worst ride of the load says how hard its hits are; the spring is to give rider sag in the middle of its usual
    range, and to let such a hit use seven eighths of the stroke to the bumper.
    """
    from ridelog.errors import RecordError
    from ridelog.names import End
    from ridelog.storage.folded_names import fold
    from strandline.bike.spring_text import answer_fields, answer_lines
    from strandline.facts.comparable import comparable_rides
    from strandline.facts.ends import end_facts
    from strandline.facts.rides import end_rides, gather
    from strandline.facts.spring_wanted import spring_answer
    from strandline.shared.load_names import check_load
    from strandline.shared.storage import bike_read
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    found = []
    with opened(logbook_path, create=False) as logbook:
        its = bike_read(logbook_path, bike).bike
        log = gather(logbook, its)
        names = [name for name in log.loads if load is None or fold(name) == fold(load)]
        check_load(load, log.loads)
        if not names:
            raise RecordError(f"The logbook has no load of {its.name} yet.", "See strandline loads --help.")
        for one in End if end is None else (End(end),):
            facts = end_facts(its, one)
            if not facts.legs:
                continue
            rides, left_out = comparable_rides(end_rides(log, facts), its, log.then, one)
            for name in names:
                own = [ride for ride in rides if fold(ride.load) == fold(name)]
                found.append((facts, name, spring_answer(facts, log.loads[name], own), left_out))
    if as_json:
        click.echo(json.dumps({"answers": [answer_fields(*one) for one in found]}))
        return
    say_lines(*(line for one in found for line in answer_lines(*one, Units(units))))

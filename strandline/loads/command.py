"""``strandline loads``: what each axle carries, against the plate."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import UNITS
from strandline.shared.storage import json_option, logbook_option, opened


@click.command(
    "loads",
    epilog="Example: strandline loads --bike grey-twin --load two-up --rider '84 kg at 780 mm' "
    "--passenger '62 kg at 1150 mm' --luggage 'panniers=18 kg at 1350 mm'",
    short_help="Work out what each axle carries, against the plate.",
)
@click.option("--bike", required=True, help="Its name, or its file.")
@click.option("--load", "name", metavar="NAME", help="The load case, such as solo; with masses it is kept.")
@click.option("--rider", "riders", multiple=True, metavar="MASS at PLACE", help="'84 kg at 780 mm'.")
@click.option("--passenger", "passengers", multiple=True, metavar="MASS at PLACE", help="'62 kg at 1150 mm'.")
@click.option(
    "--luggage",
    multiple=True,
    metavar="[NAME=]MASS at PLACE",
    help="Each piece: 'panniers=18 kg at 1350 mm'.",
)
@click.option(
    "--fuel", multiple=True, metavar="MASS at PLACE", help="What the tank holds more than when weighed."
)
@click.option(
    "--bike-centre",
    metavar="PLACE",
    help="Where the bare bike's own weight acts, where its wheels were not weighed: '700 mm'.",
)
@click.option(
    "--scales",
    multiple=True,
    metavar="END=MASS",
    help="Scales under the loaded bike: front='118 kg', rear='170 kg'; these come before an estimate.",
)
@click.option("--by", "who", help="Who weighed; nobody has to say.")
@click.option(
    "--units",
    type=click.Choice(UNITS),
    default="mm",
    show_default=True,
    help="in: pounds too; JSON is metric.",
)
@logbook_option
@json_option
def command(
    bike: str,
    name: str | None,
    riders: tuple[str, ...],
    passengers: tuple[str, ...],
    luggage: tuple[str, ...],
    fuel: tuple[str, ...],
    bike_centre: str | None,
    scales: tuple[str, ...],
    who: str | None,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Say what each axle and the whole bike carry, and what the plate permits.

    PLACE is how far behind the front axle a thing's middle is. With --load and masses the load case is kept in the
    logbook; without masses those kept before are shown. What is not known is "not checked", never "OK".

    Exit status: 0 done, also where a load is over its limit; 1 nothing could be worked out; 2 wrong usage.
    """
    from ridelog.errors import RecordError
    from strandline.facts.loads import loads_of
    from strandline.loads.parse import LoadOptions, load_case
    from strandline.loads.text import load_fields, load_lines
    from strandline.shared.messages import errors_as_messages
    from strandline.shared.storage import bike_read, place, typed_by
    from suspension.quantities.lengths import Units

    options = LoadOptions(riders, passengers, luggage, fuel, bike_centre, scales)
    keeps = options.says_anything and name is not None
    with errors_as_messages():
        file = bike_read(logbook_path, bike)
        cases = []
        if options.says_anything:
            cases.append(load_case(options, name or "this load", file.bike, typed_by(who)))
        elif not place(logbook_path).exists():
            raise RecordError("No load is kept yet.", "Give masses, see strandline loads --help.")
        found = [loads_of(file.bike, case.name, case) for case in cases]  # wrong masses are told, not kept
        if keeps or not cases:
            with opened(logbook_path, create=True) as logbook:
                version = logbook.bikes.put_file(file, typed_by(who))
                for case in cases:
                    logbook.loads.put_case(version.bike_id, case)
                if not cases:
                    kept = logbook.loads.current(version.bike_id)
                    found = [loads_of(file.bike, one.name, one) for one in kept if name in (None, one.name)]
        if not found:
            raise RecordError(
                f"The logbook has no load {name} of this bike." if name else "No load is kept yet.",
                "Give its masses with --load, see strandline loads --help.",
            )
    if as_json:
        click.echo(
            json.dumps(
                {
                    "bike": file.bike.name,
                    "loads": [{**load_fields(one), "kept": keeps or not cases} for one in found],
                }
            )
        )
        return
    click.echo("\n".join(line for one in found for line in load_lines(one, Units(units))))

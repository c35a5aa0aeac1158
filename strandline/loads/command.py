"""``strandline loads``: what each axle carries, against the plate."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared.options import bike_option, by_option, json_option, logbook_option, units_option
from strandline.shared.storage import opened


@click.command(
    "loads",
    epilog="Example: strandline loads --bike grey-twin --load two-up --rider '84 kg at 780 mm' "
    "--passenger '62 kg at 1150 mm' --luggage 'panniers=18 kg at 1350 mm'",
    short_help="Work out what each axle carries, and compare it with the plate.",
)
@bike_option
@click.option(
    "--load",
    "name",
    metavar="NAME",
    help="Name of the load, such as solo. With masses it is kept in the logbook.",
)
@click.option(
    "--rider",
    "riders",
    multiple=True,
    metavar="MASS at LENGTH",
    help="'84 kg at 780 mm': a mass, and how far behind the front axle its middle is.",
)
@click.option(
    "--passenger", "passengers", multiple=True, metavar="MASS at LENGTH", help="'62 kg at 1150 mm'."
)
@click.option(
    "--luggage",
    multiple=True,
    metavar="[NAME=]MASS at LENGTH",
    help="Each piece: 'panniers=18 kg at 1350 mm'.",
)
@click.option(
    "--fuel",
    multiple=True,
    metavar="MASS at LENGTH",
    help="Fuel that was not in the tank when the bike was weighed: '8 kg at 600 mm'.",
)
@click.option(
    "--bike-centre",
    metavar="LENGTH",
    help="Where the bare bike's own weight acts, if its wheels were not weighed one by one: '700 mm'.",
)
@click.option(
    "--scales",
    multiple=True,
    metavar="END=MASS",
    help="Scales under the loaded bike: front='118 kg' and rear='170 kg'. They are used instead of an estimate.",
)
@click.option("--rename", metavar="NAME", help="Give the load another name, for its earlier rides too.")
@click.option("--retire", is_flag=True, help="Take the load out of the list. Its rides keep it.")
@by_option
@units_option()
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
    rename: str | None,
    retire: bool,
    who: str | None,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Work out what each axle and the whole bike carry, and compare it with the limits on the plate.

    With --load and masses, the load is kept in the logbook; without masses, the loads kept before are shown. A load
    that cannot be worked out is shown as "not checked", never as "OK".

    Exit status: 0 done, even if a load is over its limit; 1 nothing could be worked out; 2 wrong usage.
    """
    from ridelog.errors import RecordError
    from ridelog.storage.folded_names import fold
    from strandline.facts.loads import loads_of
    from strandline.loads.parse import LoadOptions, load_case
    from strandline.loads.text import load_fields, load_lines
    from strandline.shared.load_names import no_such_load
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.storage import bike_read, place, typed_by
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    options = LoadOptions(riders, passengers, luggage, fuel, bike_centre, scales)
    keeps = options.says_anything and name is not None
    if rename is not None or retire:
        if name is None or options.says_anything or (rename is not None and retire):
            raise click.UsageError(
                "--rename and --retire take one load, named with --load, and nothing else."
            )
        with opened(logbook_path, create=False) as logbook:
            known = logbook.bikes.find(bike_read(logbook_path, bike).bike.name)
            if known is None:
                raise RecordError("The logbook has no load of this bike.", "See strandline loads --help.")
            if rename is not None:
                changed = logbook.loads.rename(known.id, name, rename, typed_by(who))
            else:
                changed = logbook.loads.retire(known.id, name, typed_by(who))
        done = f"{name} is now called {changed.name}" if rename is not None else f"{changed.name} is retired"
        if as_json:
            click.echo(json.dumps({"bike": known.name, "load": changed.name, "retired": retire}))
        else:
            click.echo(printable(f"{done}. Its rides keep it."))
        return
    with errors_as_messages():
        file = bike_read(logbook_path, bike)
        cases = []
        if options.says_anything:
            cases.append(load_case(options, name or "this load", file.bike, typed_by(who)))
        elif not place(logbook_path).exists():
            raise RecordError(
                "The logbook has no load of this bike.", "Give its masses: see strandline loads --help."
            )
        found = [loads_of(file.bike, case.name, case) for case in cases]  # validate before saving
        if keeps or not cases:
            with opened(logbook_path, create=True) as logbook:
                version = logbook.bikes.put_file(file, typed_by(who))
                for case in cases:
                    logbook.loads.put_case(version.bike_id, case)
                if not cases:
                    kept = logbook.loads.current(version.bike_id)
                    found = [
                        loads_of(file.bike, one.name, one)
                        for one in kept
                        if name is None or fold(name) == fold(one.name)
                    ]
        if not found and name is not None:
            raise no_such_load(name, [one.name for one in kept])
        if not found:
            raise RecordError(
                "The logbook has no load of this bike.", "Give its masses: see strandline loads --help."
            )
    if as_json:
        click.echo(
            json.dumps(
                {
                    "bike": file.bike.name,
                    "loads": [{**load_fields(one, file.bike), "kept": keeps or not cases} for one in found],
                }
            )
        )
        return
    say_lines(*(line for one in found for line in load_lines(one, file.bike, Units(units))))

"""``strandline sag``: how far the bike sinks under itself and under its rider."""

from __future__ import annotations

import json
from pathlib import Path

import click

from strandline.shared import common_words
from strandline.shared.common_words import CommonWord
from strandline.shared.options import (
    bike_option,
    by_option,
    focal_option,
    json_option,
    logbook_option,
    print_scale_option,
    units_option,
)
from strandline.shared.storage import opened

# The words stand here, not the rooms' enum, so that `--help` imports no room; a test holds them together.
USES = ("street", "sport", "off-road")


@click.command(
    "sag",
    epilog="Example: strandline sag --bike grey-twin --load solo "
    "--length rear='hanging 612 mm, on-wheels 601 mm / 604 mm, rider-aboard 578 mm / 584 mm'",
    short_help="Work out sag from lengths or photos, and compare it with the usual range.",
)
@bike_option
@click.option("--load", "name", metavar="NAME", help="What the bike carried, such as solo.")
@click.option(
    "--length",
    "lengths",
    multiple=True,
    metavar="END=LENGTHS",
    help="From the axle up to a mark on the tail or bars: front='hanging 612 mm, on-wheels 586 mm / 590 mm, "
    "rider-aboard 573 mm / 578 mm'. Before the slash: the bike was pushed down and rose by itself. After it: the "
    "bike was lifted and settled by itself.",
)
@click.option(
    "--exposed",
    multiple=True,
    metavar="LEG=LENGTHS",
    help="The same with a shaft's exposed length: front-left='on-wheels 172 mm / 176 mm'. If hanging is left out, "
    "it is the extended length in the bike's file.",
)
@click.option(
    "--photo",
    "photos",
    multiple=True,
    metavar="LEG.STATE=FILE",
    help="The exposed length from a photo: rear.on-wheels=IMG_1.jpg. Two photos: first risen, then settled.",
)
@click.option(
    "--setting",
    "settings",
    multiple=True,
    metavar="LEG.ADJUSTER=COUNT",
    help="The preload while it was measured: rear.preload='6 clicks', front.preload='3 turns' for both sides. Left "
    "out: that of the rides about this day.",
)
@click.option(
    "--use",
    type=CommonWord(USES, common_words.USES),
    help="What the bike is used for, which decides the usual range of sag. Left out: as in the bike's file.",
)
@print_scale_option
@focal_option
@click.option("--date", metavar="YYYY-MM-DD", help="The day. Left out: the photo's, else today.")
@by_option
@click.option("--dry-run", is_flag=True, help="Show the result without keeping it in the logbook.")
@units_option()
@logbook_option
@json_option
def command(
    bike: str,
    name: str | None,
    lengths: tuple[str, ...],
    exposed: tuple[str, ...],
    photos: tuple[str, ...],
    settings: tuple[str, ...],
    use: str | None,
    print_scale: str | None,
    focal_35mm: str | None,
    date: str | None,
    who: str | None,
    dry_run: bool,
    units: str,
    logbook_path: Path | None,
    as_json: bool,
) -> None:
    """Work out static sag (the bare bike on its wheels) and rider sag (rider aboard in full gear, feet on the pegs).

    Measure twice, once after pushing the bike down and once after lifting it: the mean cancels friction, and the
    difference shows how much there is. Have a helper, and do not measure on the side stand. The lengths are kept in
    the logbook; without lengths, the latest ones kept are shown.
    """

    from ridelog.names import Use
    from strandline.read.parse import parse_photo_options
    from strandline.sag.contradictions import how_it_stands, what_contradicts
    from strandline.sag.parse import SagOptions
    from strandline.sag.session import SagRequest, keep_sag, latest_sag, measured_sag, nothing_kept
    from strandline.sag.text import sag_fields, sag_lines
    from strandline.shared.messages import errors_as_messages, printable
    from strandline.shared.parse import parse_day
    from strandline.shared.storage import bike_read, place, typed_by
    from strandline.shared.units import in_units, setting_text
    from strandline.shared.wrapped import say_lines
    from suspension.quantities.lengths import Units

    parse_photo_options(print_scale, focal_35mm)
    with errors_as_messages():
        file = bike_read(logbook_path, bike)
        request = SagRequest(
            file,
            file.bike.use if use is None else Use(use),
            name.strip() if name else None,
            None if date is None else parse_day(date),
            typed_by(who),
            SagOptions(lengths, exposed, photos, settings, print_scale, focal_35mm, who),
        )
        if settings and not request.options.says_anything:
            raise click.UsageError("--setting goes with lengths or photos of the same session.")
        if request.options.says_anything:
            result = measured_sag(request)
            if not dry_run:
                with opened(logbook_path, create=True) as logbook:
                    keep_sag(logbook, request, result.session)
        else:
            if not place(logbook_path).exists():
                raise nothing_kept()
            with opened(logbook_path, create=False) as logbook:
                result = latest_sag(logbook, request)
    contradictions = what_contradicts(logbook_path, result, file.bike)
    attitude = how_it_stands(logbook_path, request, result)
    day = result.session.date.isoformat()
    if as_json:
        fields = {
            "bike": file.bike.name,
            "date": day,
            "load": result.load,
            "use": None if request.use is None else request.use.value,
            "kept": not dry_run,
            "settings": [
                {
                    "leg": one.leg.value,
                    "adjuster": one.adjuster,
                    "count": one.count,
                    "from": one.counted_from.value,
                }
                for one in result.session.settings
            ],
            "places": [sag_fields(one) for one in result.sags],
            "attitude": list(attitude),
            "contradictions": list(contradictions),
        }
        click.echo(json.dumps(fields))
        return
    say_lines(", ".join([file.bike.name, day, *([result.load] if result.load else [])]))
    for one in result.session.settings:
        click.echo(printable(f"{one.leg.value} {one.adjuster}: {setting_text(one)}"))
    say_lines(*(line for one in result.sags for line in sag_lines(one, Units(units))))
    for words in (*attitude, *contradictions):
        say_lines(in_units(words, Units(units)))
    if request.use is None:
        say_lines(
            "Not compared with the usual range: the bike's file does not say what the bike is used for. "
            "Add --use, or set use in the file."
        )

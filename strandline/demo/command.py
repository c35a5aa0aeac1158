"""``strandline demo``: reads the sample photos, and sets up an invented bike."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.shared.options import json_option, output_option, units_option

if TYPE_CHECKING:
    from strandline.demo.page import PageEntry
    from strandline.demo.samples import Sample

PAGE = "index.html"
# Marks a folder as filled by this command, safe to overwrite.
MARK = ".strandline-demo"


@click.command(
    epilog="Example: strandline demo -o demo",
    short_help="Read the sample photos, and set up an invented bike.",
)
@output_option(
    "Folder for all that it writes. A folder that this command filled before is written over.",
    "demo",
    folder=True,
)
@click.option(
    "--samples",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder of the sample photos. Left out: the one in the project's source.",
)
@click.option("--photos-only", is_flag=True, help="Read the photos, without the invented bike.")
@click.option(
    "--force",
    is_flag=True,
    help="Write into a folder that holds other files, and replace those of the same names.",
)
@units_option("of the pages, the charts and the pictures", "JSON holds no lengths.")
@json_option
def command(
    output: Path, samples: Path | None, photos_only: bool, force: bool, units: str, as_json: bool
) -> None:
    """Read the sample photos, then set up an invented bike: three rides with steps between, advice and charts.

    The photos are rendered by a computer, not taken; some are bad on purpose, to show what the program says about
    them. The bike, its rides and the other owners are invented. Works offline.
    """
    import datetime as dt
    from dataclasses import replace

    from strandline.demo.page import page
    from strandline.demo.samples import SamplesError, find_folder, load_samples
    from strandline.demo.setup import PAGE as SETUP_PAGE
    from strandline.demo.setup import set_up
    from strandline.read.text import show_end, show_notes, show_photo
    from strandline.shared.files import OutputError, write_new
    from strandline.shared.messages import PROGRAM_FAULT, printable
    from suspension.quantities.lengths import Units

    try:
        entries_wanted = [
            replace(one, options=replace(one.options, units=units))
            for one in load_samples(find_folder(samples))
        ]
        _prepare(output, force)
        entries = []
        for sample in entries_wanted:
            entries.append(_entry(sample, output))
            if not as_json:
                show_photo(entries[-1].outcome, sample.path.name, Units(units), "far end")
                show_notes(entries[-1].outcome)
        write_new(output / PAGE, page(entries).encode("utf-8"), force=True)
    except (OutputError, SamplesError) as error:
        raise click.ClickException(printable(str(error))) from error
    outcomes = [entry.outcome for entry in entries]
    if not as_json:
        show_end(outcomes, (), from_file=False)
        click.echo(f"Page: {output / PAGE}\nOverlays: {len(outcomes)} in {output}")
    if not photos_only:
        by_name = {sample.path.name: sample for sample in entries_wanted}
        try:
            for line in set_up(output, by_name, dt.date.today(), Units(units)):
                if not as_json:
                    click.echo(line)
        except OutputError as error:
            raise click.ClickException(printable(str(error))) from error
    if as_json:
        photos = [{"photo": one.name, "status": one.reading.status.value} for one in outcomes]
        pages = [str(output / PAGE), *([] if photos_only else [str(output / SETUP_PAGE)])]
        click.echo(json.dumps({"photos": photos, "pages": pages}))
    if any(outcome.code in (PROGRAM_FAULT, "bad_file") for outcome in outcomes):
        click.get_current_context().exit(1)


def _prepare(output: Path, force: bool) -> None:
    """Make the output folder, or check that it may be filled again."""
    from strandline.shared.files import OutputError, make_folder, write_new

    make_folder(output)
    try:
        filled = any(output.iterdir())
    except OSError as error:
        raise OutputError(
            f"{output} cannot be looked into: {error.strerror}. Name another folder with --output."
        ) from error
    if filled and not force and not (output / MARK).exists():
        raise OutputError(
            f"{output} holds files that this command did not write, and nothing was written. "
            "Name another folder with --output, or add --force."
        )
    write_new(output / MARK, b"Filled by strandline demo, and written again each time.\n", force=True)


def _entry(sample: Sample, output: Path) -> PageEntry:
    """Read one sample and write its overlay."""
    from dataclasses import replace

    from strandline.demo.page import PageEntry
    from strandline.read.one_photo import read_one
    from strandline.read.overlays import overlay_jpeg
    from strandline.read.parse import parse_options
    from strandline.shared.files import overlay_names, write_new

    inputs = parse_options(sample.options)
    outcome, photo = read_one(str(sample.path), inputs)
    if photo is None:
        return PageEntry(sample, inputs, outcome, None, None)
    picture = overlay_jpeg(outcome, photo, inputs.units, inputs.leg.layout)
    name = overlay_names([sample.path])[0]
    write_new(output / name, picture, force=True, lasting=False)
    return PageEntry(sample, inputs, replace(outcome, overlay=None), picture, name)

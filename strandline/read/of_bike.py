"""``strandline read --bike``: the shaft and the marker as a bike's file describes them, and the ride's record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strandline.read.inputs import ReadInputs, inputs_of_leg
from strandline.read.parse import parse_photo_options
from strandline.shared.messages import errors_as_messages
from strandline.shared.storage import bike_read
from strandline.shared.suggest import did_you_mean
from suspension.quantities.lengths import Units
from suspension.stroke.leg import State

if TYPE_CHECKING:
    from ridelog.bikes.bike import Bike, BikeLeg

# What the bike's file says, and so is not typed beside --bike.
OF_THE_FILE = (
    *("shaft", "layout", "marker", "marker_color", "marker_width", "tie_lock"),
    *("extended", "stroke", "bumper", "bumper_crushed"),
)


def inputs_from_bike(
    logbook_path: Path | None, bike: str, leg: str | None, options: dict[str, str | None]
) -> tuple[ReadInputs, BikeLeg]:
    """Take what a bike's file says of the leg in a photo.

    Parameters
    ----------
    logbook_path : Path or None
    bike : str
        Its name or file; "" for the only one.
    leg : str or None
        None where only one is possible.
    options : dict
        Of ``read``, as typed.

    Raises
    ------
    click.ClickException
        The bike or the leg is not known, or its shaft is not.
    click.UsageError
        An option says what the file says.
    """
    twice = [name for name in OF_THE_FILE if options.get(name) is not None]
    if twice:
        option = "--" + twice[0].replace("_", "-").replace("color", "colour")
        raise click.UsageError(f"{option} is in the bike's file already: leave it out, or leave --bike out.")
    with errors_as_messages():
        found = _leg(bike_read(logbook_path, bike).bike, leg)
        photo = parse_photo_options(
            options["print_scale"], options["focal_35mm"], State(options["state"] or "unknown")
        )
        return replace(inputs_of_leg(found, photo), units=Units(options["units"] or "mm")), found


def _leg(bike: Bike, name: str | None) -> BikeLeg:
    """Find the leg; without a name the only one, or the first where both sides of the only end are alike."""
    from ridelog.errors import RecordError

    names = [one.name.value for one in bike.legs]
    if name is not None:
        if name not in names:
            raise RecordError(
                f"{bike.name} has no leg {name} (there: {', '.join(names)}).", did_you_mean(name, names)
            )
        return bike.leg(name)
    first = bike.legs[0]
    if all(replace(one, name=first.name) == first for one in bike.legs):
        return first
    raise RecordError(
        f"Which leg of {bike.name} does the photo show?", f"Add --leg with one of {', '.join(names)}."
    )


def record(ctx: click.Context, leg: str, photos: Sequence[str]) -> None:
    """Record a ride with these photos of one leg, as ``strandline ride add --photo`` does."""
    words = ["ride", "add", *(["--json"] if ctx.params["as_json"] else [])]
    words += [part for photo in photos for part in ("--photo", f"{leg}={photo}")]
    words += [part for one in ctx.params["settings"] for part in ("--setting", one)]
    for option in ("bike", "print_scale", "focal_35mm", "state", "units"):
        if ctx.params[option]:
            words += [f"--{option.replace('_', '-')}", str(ctx.params[option])]
    if ctx.params["logbook_path"] is not None:
        words += ["--logbook", str(ctx.params["logbook_path"])]
    ctx.find_root().command.main(words, prog_name="strandline", standalone_mode=False)

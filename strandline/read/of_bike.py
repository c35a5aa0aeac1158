"""``strandline read --bike``: the shaft and the marker as a bike's file describes them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ridelog.errors import LogbookError, RecordError
from strandline.read.inputs import ReadInputs, inputs_of_leg
from strandline.read.parse import parse_photo_options
from strandline.shared.messages import errors_as_messages
from strandline.shared.storage import bike_read, bikes_folder, bikes_in, place
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


@dataclass(frozen=True)
class OfBike:
    """What a bike's file says of the leg in a photo.

    Attributes
    ----------
    bike : Bike
    leg : BikeLeg
    inputs : ReadInputs
    why : str
        Why this leg, where nobody named it: " (as last time)", or "".
    """

    bike: Bike
    leg: BikeLeg
    inputs: ReadInputs
    why: str = ""


def from_bike(
    logbook_path: Path | None, bike: str, leg: str | None, options: dict[str, str | None], *, ask: bool
) -> OfBike:
    """Take what a bike's file says of the leg in a photo.

    Parameters
    ----------
    logbook_path : Path or None
    bike : str
        Its name or file; "" for the only one.
    leg : str or None
        None: the likely one.
    options : dict
        Of ``read``, as typed.
    ask : bool
        Ask for the leg where several are as likely.

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
        if not bike and not bikes_in(bikes_folder(logbook_path)):
            raise LogbookError(
                f"There is no bike in {bikes_folder(logbook_path)} yet.",
                "Describe one with strandline bike new, or give --shaft and --layout.",
            )
        its = bike_read(logbook_path, bike).bike
        found, why = _leg(logbook_path, its, leg, ask)
        photo = parse_photo_options(
            options["print_scale"], options["focal_35mm"], State(options["state"] or "unknown")
        )
        inputs = replace(inputs_of_leg(found, photo), units=Units(options["units"] or "mm"))
    return OfBike(its, found, inputs, why)


def _leg(logbook_path: Path | None, bike: Bike, name: str | None, ask: bool) -> tuple[BikeLeg, str]:
    """Find the leg, and why it is this one where nobody named it.

    Without a name: the only one; the first where all legs are alike; the one whose photo was recorded last.
    """
    names = [one.name.value for one in bike.legs]
    if name is not None:
        if name not in names:
            raise RecordError(
                f"{bike.name} has no leg {name} (there: {', '.join(names)}).", did_you_mean(name, names)
            )
        return bike.leg(name), ""
    first = bike.legs[0]
    if all(replace(one, name=first.name) == first for one in bike.legs):
        return first, ""
    last = _last_photographed(logbook_path, bike)
    if last in names:
        return bike.leg(last), f" (as last time; another: --leg {next(one for one in names if one != last)})"
    if ask:
        typed = click.prompt("Which leg does the photo show?", type=click.Choice(names), err=True)
        return bike.leg(typed), ""
    raise RecordError(
        f"Which leg of {bike.name} does the photo show?", f"Add --leg with one of {', '.join(names)}."
    )


def _last_photographed(logbook_path: Path | None, bike: Bike) -> str:
    """Name the leg of the last ride whose photos show one leg alone; "" where there is none."""
    from ridelog.storage.store import Logbook

    if not place(logbook_path).exists():
        return ""
    with Logbook.open(place(logbook_path), create=False) as logbook:
        known = logbook.bikes.find(bike.name)
        rides = () if known is None else logbook.rides.all_rides(known.id)
    for ride in sorted(rides, key=lambda one: one.number, reverse=True):
        legs = {one.leg.value for one in ride.readings if one.provenance.photo_sha256 is not None}
        if legs:
            return legs.pop() if len(legs) == 1 else ""
    return ""

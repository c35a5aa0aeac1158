"""Options that ``ride add`` and ``ride amend`` share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from strandline.shared.option_kinds import with_options
from strandline.shared.options import by_option, focal_option, print_scale_option, units_option
from strandline.shared.ride_options import (
    felt_option,
    load_option,
    ride_date_option,
    route_option,
    setting_option,
)

F = TypeVar("F", bound=Callable[..., Any])


_OPTIONS = (
    ride_date_option,
    route_option,
    load_option,
    setting_option,
    click.option(
        "--reading",
        "readings",
        multiple=True,
        metavar="LEG=LENGTHS",
        help="Lengths measured by hand: rear='exposed 65 mm, marker 50 mm, remaining 15 mm', or some of them. Add "
        "at-stop if the marker is at the far end, and 'reset 12 mm' if the shaft was that far in when the "
        "marker was last slid to the seal.",
    ),
    click.option(
        "--at-stop",
        "at_stop",
        multiple=True,
        metavar="LEG",
        help="The marker was pushed up to the bumper or clamp, so that a photo shows none: a reading without lengths. "
        "rear, or front for both legs.",
    ),
    click.option(
        "--photo",
        "photos",
        multiple=True,
        metavar="LEG=FILE",
        help="A photo to read, with the shaft as the bike's file describes it: front-left=IMG_1.jpg.",
    ),
    click.option(
        "--state",
        "states",
        multiple=True,
        metavar="[LEG=]STATE",
        help="How the bike stood at the reading: hanging, on-wheels or rider-aboard. For one leg, or for all.",
    ),
    felt_option,
    click.option(
        "--event",
        "events",
        multiple=True,
        metavar="WORDS",
        help="A leak, a hard knock, a crack: 'oil leak front'. Until it is cleared, the advice is to stop riding.",
    ),
    click.option(
        "--event-cleared",
        "events_cleared",
        multiple=True,
        metavar="WORDS",
        help="An event that has been looked at and is in order, in the same words, or all.",
    ),
    click.option("--temperature", metavar="TEMPERATURE", help="Of the air: '17 C' or '63 F'."),
    click.option(
        "--pressure",
        "--tyre",
        "pressures",
        multiple=True,
        metavar="END=PRESSURE",
        help="Cold tyre pressure: front='2.5 bar', rear='36 psi'.",
    ),
    click.option("--note", metavar="TEXT", help="Anything else: kerbs, potholes, hard braking."),
    by_option,
    print_scale_option,
    focal_option,
    units_option(),
)


def ride_options(command: F) -> F:
    """Add the options that describe a ride; their names are the fields of `RideOptions`."""
    return with_options(command, _OPTIONS)

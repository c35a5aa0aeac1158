"""Options that ``ride add`` and ``ride amend`` share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enums, so that `--help` imports no room; a test holds them together.
FELT = ("harsh", "bottomed", "wallows", "dives")

_OPTIONS = (
    click.option("--date", metavar="YYYY-MM-DD", help="The day; today where it is not given."),
    click.option("--route", help="The loop; peaks compare on equal loops only."),
    click.option("--load", metavar="NAME", help="The load case, such as solo, or 'passenger and bags'."),
    click.option(
        "--setting",
        "settings",
        multiple=True,
        metavar="LEG.ADJUSTER=COUNT",
        help="A count from the end that the bike's file names: rear.preload='6 clicks'; front.preload='3 turns' "
        "for both sides; '6 clicks?' where it is in doubt.",
    ),
    click.option(
        "--reading",
        "readings",
        multiple=True,
        metavar="LEG=LENGTHS",
        help="Measured by hand: rear='exposed 65 mm, marker 50 mm, remaining 15 mm', any of them; and at-stop, "
        "or 'reset 12 mm' for the compression at which the marker was last slid to the seal.",
    ),
    click.option(
        "--photo",
        "photos",
        multiple=True,
        metavar="LEG=FILE",
        help="Read on the spot, with what the bike's file says of the shaft: front-left=IMG_1.jpg.",
    ),
    click.option(
        "--state",
        "states",
        multiple=True,
        metavar="[LEG=]STATE",
        help="How the bike stood at the reading: hanging, on-wheels or rider-aboard; for one leg or for all.",
    ),
    click.option(
        "--felt", multiple=True, type=click.Choice(FELT), help="What the rider reports; may be repeated."
    ),
    click.option("--temperature", metavar="DEGREES", help="Of the air: '17 C' or '63 F'."),
    click.option(
        "--pressure",
        "pressures",
        multiple=True,
        metavar="END=PRESSURE",
        help="Cold tyre: front='2.5 bar', rear='36 psi'.",
    ),
    click.option("--note", help="Whatever else: kerbs, potholes, hard braking."),
    click.option("--by", "who", help="Who measured; nobody has to say."),
    click.option(
        "--print-scale", metavar="RATIO", help="Of the card in the photos: its 100 mm bar over 100 mm, 0.985."
    ),
    click.option(
        "--focal-35mm", metavar="MM", help="Of the phone's lens, for photos that do not tell it: 26."
    ),
)


def ride_options(command: F) -> F:
    """Add the options that tell of a ride; their names are the fields of `RideOptions`."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command

"""Options that ``ride add`` and ``ride amend`` share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from strandline.shared.options import (
    ENDS,
    by_option,
    date_option,
    focal_option,
    print_scale_option,
    units_option,
)

F = TypeVar("F", bound=Callable[..., Any])


class FeltWord(click.Choice):  # type: ignore[type-arg]
    """A word of how it felt, alone or of one end: "harsh", "front=harsh"."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        end, sign, word = str(value).rpartition("=")
        if sign and end.strip() not in ENDS:
            self.fail(f"{value}: write front=, rear= or neither before the word.", param, ctx)
        found = super().convert(word.strip(), param, ctx)
        return f"{end.strip()}={found}" if sign else found


# The words stand here, not the rooms' enums, so that `--help` imports no room; a test compares both.
FELT = ("harsh", "bottomed", "wallows", "dives")

_OPTIONS = (
    date_option,
    click.option(
        "--route",
        metavar="NAME",
        help="Name of the route. Only rides over the same route are compared.",
    ),
    click.option(
        "--load", metavar="NAME", help="What the bike carried, in a few words: solo, 'passenger and bags'."
    ),
    click.option(
        "--setting",
        "settings",
        multiple=True,
        metavar="LEG.ADJUSTER=COUNT",
        help="Clicks, turns or positions, counted from the end that the bike's file names: "
        "rear.preload='6 clicks'; front.preload='3 turns' for both sides; '6 clicks?' if you are not sure.",
    ),
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
    click.option(
        "--felt",
        multiple=True,
        type=FeltWord(FELT),
        metavar="[END=]WORD",
        help=f"What you felt: {', '.join(FELT)}. At one end: front=harsh. May be repeated.",
    ),
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
    for option in reversed(_OPTIONS):
        command = option(command)
    return command

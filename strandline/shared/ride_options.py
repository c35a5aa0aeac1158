"""Options that describe a ride, of ``ride`` and of ``read --record``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from strandline.shared.options import ENDS

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enum, so that `--help` imports no room; a test compares both.
FELT = ("harsh", "bottomed", "wallows", "dives")


class FeltWord(click.Choice):  # type: ignore[type-arg]
    """A word of how it felt, alone or of one end: "harsh", "front=harsh"."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Convert a typed value."""
        end, sign, word = str(value).rpartition("=")
        if sign and end.strip() not in ENDS:
            self.fail(f"{value}: write front=, rear= or neither before the word.", param, ctx)
        found = super().convert(word.strip(), param, ctx)
        return f"{end.strip()}={found}" if sign else found


setting_option = click.option(
    "--setting",
    "settings",
    multiple=True,
    metavar="LEG.ADJUSTER=COUNT",
    help="Clicks, turns or positions on the ride, counted from the end that the bike's file names: "
    "rear.preload='6 clicks'; front.preload='3 turns' for both sides; '6 clicks?' if you are not sure. Left out: "
    "as advised before, else as on the ride before.",
)
route_option = click.option(
    "--route", metavar="NAME", help="Name of the route. Only rides over the same route are compared."
)
load_option = click.option(
    "--load", metavar="NAME", help="What the bike carried, in a few words: solo, 'passenger and bags'."
)
ride_date_option = click.option(
    "--date", metavar="YYYY-MM-DD", help="The day of the ride. Left out: the photo's, else today."
)
felt_option = click.option(
    "--felt",
    multiple=True,
    type=FeltWord(FELT),
    metavar="[END=]WORD",
    help=f"What you felt: {', '.join(FELT)}. At one end: front=harsh. May be repeated.",
)


def ride_options_of_read(command: F) -> F:
    """Add the options of a ride that ``read --record`` takes."""
    for option in (felt_option, ride_date_option, load_option, route_option, setting_option):
        command = option(command)
    return command

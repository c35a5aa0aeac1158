"""Options that several commands share: what is stated about the shaft, the card, the marker and the bike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enums, so that `--help` imports no room; a test holds them together.
LAYOUTS = ("fork", "upside-down-fork", "shock")
STATES = ("hanging", "on-wheels", "rider-aboard")
MARKERS = ("tie", "o-ring")
TIE_LOCKS = ("at-seal", "away", "unknown")
UNITS = ("mm", "in")

_STATED = (
    click.option(
        "--shaft",
        required=True,
        metavar="LENGTH",
        help="Diameter of the bare shaft by caliper, with its unit: 41.02mm, '1 5/8 in', '41 mm ± 0.05 mm'.",
    ),
    click.option(
        "--layout",
        required=True,
        type=click.Choice(LAYOUTS, case_sensitive=False),
        help="What the shaft belongs to. The far end is the lower clamp of a fork, the axle foot of an "
        "upside-down fork, the bumper of a shock.",
    ),
    click.option(
        "--print-scale",
        metavar="RATIO",
        help="Length of the card's printed 100 mm bar over 100 mm: 0.985, 98.5%, 0.98x0.985 (along x "
        "across), '0.98 ± 0.002'. Without it the card counts as not measured, and the reading is less sure.",
    ),
    click.option("--marker", type=click.Choice(MARKERS, case_sensitive=False), help="What the marker is."),
    click.option("--marker-color", metavar="COLOUR", help="Colour of the marker, for example orange."),
    click.option(
        "--marker-width",
        metavar="LENGTH",
        help="Width of the marker along the shaft, a tie's strap without its lock: 3.6mm.",
    ),
    click.option(
        "--tie-lock",
        type=click.Choice(TIE_LOCKS, case_sensitive=False),
        help="Where a tie's lock sits: where the seal touched it, away from there, or not known.",
    ),
    click.option(
        "--focal-35mm",
        metavar="MM",
        help="35 mm-equivalent focal length of the phone's lens, for photos that do not tell it: 26.",
    ),
    click.option(
        "--extended",
        metavar="LENGTH",
        help="Exposed length with the wheel hanging free, E0 (for a shock, to the bumper's face): 205mm. "
        "Gives the stroke used.",
    ),
    click.option(
        "--stroke",
        metavar="LENGTH",
        help="Stroke to the hard stop, S: 120mm. Gives what is left to it, and percent.",
    ),
    click.option("--bumper", metavar="LENGTH", help="A shock's rubber bumper, free: 20mm."),
    click.option(
        "--bumper-crushed",
        metavar="LENGTH",
        help="The same, crushed: 8mm. With --bumper and --extended it gives S of a shock.",
    ),
    click.option(
        "--state",
        type=click.Choice(STATES, case_sensitive=False),
        help="How the bike stood in the photo. Not stated: the marker's distance from the seal is never "
        "taken for the stroke used.",
    ),
    click.option(
        "--units",
        type=click.Choice(UNITS, case_sensitive=False),
        default="mm",
        show_default=True,
        help="Units of the table and of the overlays; JSON is always in mm.",
    ),
)


def stated_options(command: F) -> F:
    """Add the options that state what is known beforehand; their names are the fields of `ReadOptions`."""
    for option in reversed(_STATED):
        command = option(command)
    return command

"""Options that say what a photo shows: the shaft, the card, the marker and the lengths of the bike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from strandline.shared import common_words
from strandline.shared.common_words import CommonWord
from strandline.shared.option_kinds import RenamedOption, with_options
from strandline.shared.options import focal_option, print_scale_option, units_option

F = TypeVar("F", bound=Callable[..., Any])

# The words stand here, not the rooms' enums, so that `--help` imports no room; a test compares both.
LAYOUTS = ("fork", "upside-down-fork", "shock")
STATES = ("hanging", "on-wheels", "rider-aboard")
MARKERS = ("tie", "o-ring")
TIE_LOCKS = ("at-seal", "away", "unknown")

_READ = (
    click.option(
        "--shaft",
        metavar="LENGTH",
        help="Diameter of the bare shaft, measured with a caliper: 41.02mm, '1 5/8 in', '41 mm ± 0.05 mm'.",
    ),
    click.option(
        "--layout",
        type=CommonWord(LAYOUTS, common_words.LAYOUTS),
        help="What the shaft belongs to. The far end is the lower clamp of a fork, the axle foot of an "
        "upside-down fork, the bumper of a shock.",
    ),
    print_scale_option,
    click.option("--marker", type=CommonWord(MARKERS, common_words.MARKERS), help="Kind of marker."),
    click.option(
        "--marker-colour",
        "marker_color",
        cls=RenamedOption,
        former=("--marker-color",),
        metavar="COLOUR",
        help="Colour of the marker, for example orange.",
    ),
    click.option(
        "--marker-width",
        metavar="LENGTH",
        help="Width of the marker along the shaft: 3.6mm. Of a tie, the strap without its lock.",
    ),
    click.option(
        "--tie-lock",
        type=click.Choice(TIE_LOCKS, case_sensitive=False),
        help="Where a tie's lock is: where the seal touches it, away from there, or not known.",
    ),
    focal_option,
    click.option(
        "--extended",
        metavar="LENGTH",
        help="Hanging length: the exposed length with the wheel hanging free (of a shock, to the bumper's face): "
        "205mm. Needed for the stroke used.",
    ),
    click.option(
        "--stroke",
        metavar="LENGTH",
        help="Stroke to the hard stop: 120mm. Needed for what is left to it, and for percent.",
    ),
    click.option("--bumper", metavar="LENGTH", help="Length of a shock's rubber bumper, free: 20mm."),
    click.option(
        "--bumper-crushed",
        metavar="LENGTH",
        help="The same, crushed: 8mm. With --bumper and --extended it gives a shock's stroke.",
    ),
    click.option(
        "--state",
        type=CommonWord(STATES, common_words.STATES),
        help="How the bike stood in the photo. Left out: the marker's distance from the seal is never taken "
        "as the stroke used.",
    ),
    units_option("of the table and the pictures", "JSON is always in mm."),
)


def read_options(command: F) -> F:
    """Add the options that describe a photo's shaft, card, marker and bike to a command.

    Their names are the fields of `ReadOptions`.
    """
    return with_options(command, _READ)

"""The front's other reason for preload: it stands higher under braking, and what that costs in sag.

From u = F/(n k) - d: at the same force a mm of preload is a mm of stroke, under braking and at rest alike
[derived, linear zone]. How far the fork moves between the two stays the same, for the rate does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from suspension.advise import Setup


def dive_words(setup: Setup) -> str:
    """Tell a rider whose fork dives what one step more gives and costs, without advising it."""
    from suspension.advise import step_mm  # it builds on this

    one = setup.adjuster.kind.one
    added = step_mm(setup, 1)
    if added is None:
        return (
            f"Against dive: one {one} more makes the fork stand higher under braking and takes as much off its "
            "sag. How many mm that is, is not known. The rate, and so the dive itself, stays."
        )
    words = (
        f"Against dive: one {one} more makes the fork stand about {added:.1f} mm of stroke higher under braking, "
        f"and costs about {added:.1f} mm of sag. The rate, and so the dive itself, stays."
    )
    if setup.sag_room_mm is not None and added > setup.sag_room_mm[0]:
        words += " It would take rider sag under its window."
    return words

"""Which end of a fork's tube is the seal, by how the vehicle stands in the upright photo.

A fork holds its sliding seal at the lower end of the bare tube, an upside-down fork at the upper end; a shock's rod can
point either way. So the photo's own upright, which the phone's sensor stores, speaks for or against the card's arrow.
"""

from __future__ import annotations

import numpy as np

from calibration.upright import turned_axes
from vision.geometry.cylinder import Cylinder
from vision.reading import Layout

# Share of forks that appear the way up they stand. All 53 in real photographs do, as of a share of 0.95 one count in 15
# would; half of it again for a bike on its side or its bars, a leg on the bench, a picture turned by hand, a layout
# stated wrongly.
STANDING = 0.9
# Least share of the tube's direction in the picture that is up or down: 30 degrees from level. A photo turned by a
# quarter says nothing.
LEAST_UPRIGHT = 0.5
# What an arrow that has a fork stand on its head is said to show.
ON_ITS_HEAD = {
    Layout.FORK: "the arrow points to the upper end of the tube, and a fork has its seal at the lower one",
    Layout.UPSIDE_DOWN_FORK: (
        "the arrow points to the lower end of the tube, and an upside-down fork has its seal at the upper one"
    ),
}


def standing_odds(layout: Layout, cylinder: Cylinder, quarter_turns: int) -> float:
    """Odds that the arrow points to the seal, as the photo stands, over that it points away from it.

    Parameters
    ----------
    layout : Layout
    cylinder : Cylinder
        The shaft in the stored picture, its axis away from the end that the arrow points to.
    quarter_turns : int
        Clockwise, that make the stored picture upright.

    Returns
    -------
    float
        1 where the photo says nothing of it.
    """
    if layout is Layout.SHOCK:
        return 1.0
    axes = turned_axes(quarter_turns)
    point, along = axes @ cylinder.point_cam, axes @ cylinder.axis_cam
    # Direction in the picture of a step along the axis, x right and y down.
    step = along[:2] * point[2] - point[:2] * along[2]
    down = float(step[1] / max(np.hypot(*step), 1e-9))
    if abs(down) < LEAST_UPRIGHT:
        return 1.0
    odds = STANDING / (1 - STANDING)
    return odds if (down > 0) == (layout is Layout.UPSIDE_DOWN_FORK) else 1 / odds

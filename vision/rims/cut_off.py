"""Ends that the photo's own edge cuts off: nothing beyond them is in the picture, and the shaft seems to end there."""

from __future__ import annotations

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.geometry.views import ReaderFrame
from vision.names import RimName

# How much of the part beyond an end must be in the photo, mm along the shaft, and for what share of the columns that
# show its edge: less shows no edge but the photo's own.
BEYOND_MM, BEYOND_SHARE = 2.0, 0.5
CUT_OFF = "is the photo's own: the shaft goes on beyond it, and that end must be in the photo"
# From the bare shaft outwards along the axis, which points away from the seal.
OUTWARDS = {RimName.SEAL: -1.0, RimName.FAR_END: 1.0}


def cut_off(rims: dict[RimName, RimPoints], frame: ReaderFrame, size: tuple[int, int]) -> tuple[RimName, ...]:
    """Name the ends beyond which the photo shows nothing.

    Parameters
    ----------
    rims : dict of RimName to RimPoints
        As seen in the view along the shaft.
    frame : ReaderFrame
        Of that view.
    size : tuple of two int
        Width and height of the photo, px.
    """
    return tuple(
        name
        for name, outwards in OUTWARDS.items()
        if name in rims and _shown(rims[name].points_px, outwards * BEYOND_MM, frame, size) < BEYOND_SHARE
    )


def _shown(points_px: np.ndarray, further_mm: float, frame: ReaderFrame, size: tuple[int, int]) -> float:
    """Share of points on the shaft's surface that are in the photo once moved along the axis."""
    at_px = frame.moved_along_px(points_px, further_mm)
    return float(np.mean(((at_px >= 0) & (at_px <= np.array(size) - 1)).all(axis=1)))

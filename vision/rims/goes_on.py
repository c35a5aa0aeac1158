"""Ends beyond which most networks see the bare shaft go on: one network alone has put the end there.

A cast foot as wide and as grey as its tube is bare shaft to two networks of three; where the third one sees the shaft
end, and the mean of two lets it pass, may be any seam of the foot.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vision.adjustment.observations import RimPoints
from vision.geometry.views import READER_STEP_MM, ReaderFrame, reader_columns
from vision.names import RimName
from vision.networks.classes import Part
from vision.rims.cut_off import OUTWARDS

# Stretch beyond an end in which the classes are looked at, mm: past the border's own blur, short of the next part.
LOOKED_AT_MM = (1.0, 5.0)
# Mean probability of bare shaft there from which the shaft goes on to a network: more likely than all else. Of 480 ends
# of eight sets the second largest of three networks is 0.65, 0.34 and 0.32 at the most, under 0.3 for all others.
GOES_ON = 0.5


def shaft_goes_on(
    rims: dict[RimName, RimPoints], networks: Sequence[np.ndarray], frame: ReaderFrame
) -> tuple[RimName, ...]:
    """Name the ends beyond which more than half of the networks see bare shaft.

    Parameters
    ----------
    rims : dict of RimName to RimPoints
        As seen in the view along the shaft.
    networks : sequence of ndarray, shape (7, rows, columns)
        What each of them sees in that view: probabilities in the order of `vision.networks.classes.Part`.
    frame : ReaderFrame
        Of the view.
    """
    return tuple(
        name
        for name, outwards in OUTWARDS.items()
        if name in rims
        and np.mean([_bare(rims[name].points_px, outwards, seen, frame) > GOES_ON for seen in networks]) > 0.5
    )


def _bare(points_px: np.ndarray, outwards: float, seen: np.ndarray, frame: ReaderFrame) -> float:
    """Mean probability of bare shaft beyond points of an end, to one network."""
    further_mm = outwards * np.arange(LOOKED_AT_MM[0], LOOKED_AT_MM[1] + READER_STEP_MM, READER_STEP_MM)
    rows, u = frame.at(frame.moved_along_px(points_px, further_mm[:, None]))
    row = np.clip(np.rint(rows).astype(int), 0, seen.shape[1] - 1)
    column = np.clip(reader_columns(u), 0, seen.shape[2] - 1)
    return float(seen[Part.SHAFT, row, column].mean())

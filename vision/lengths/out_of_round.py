"""Rims that are no circle round the shaft: the edge of a splash, a sticker or a finger before the end that is meant.

Seal, marker and far end are circles, and the pose says what curve each of them is in the photo. What lies over an end
has an outline of its own; the part segmentation takes where the shaft disappears for the end.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.residuals import ResidualModel
from vision.names import LengthName, RimName
from vision.reading import Joint, Layout, Note
from vision.reasons import Reason
from vision.rims.choose import Choice

# Scatter of a rim's points about its circle, in the standard uncertainties that their own blur gives them, over the
# share of the columns that show it, from which it is another edge: of a bulging outline few columns agree on a place.
# Of 377 seals and far ends of seven sets the largest is 0.66, of 99 in 100 0.5; of 31 splashes of paint that were taken
# for an end 25 have 0.8 to 3 (docs/measured.md, "Spoilt photos").
OUT_OF_ROUND_SDS = 0.8
OUT_OF_ROUND = "is no circle round the shaft: something lies over it"
# Not of a far end that the marker touches or nearly so, mm: between both too little of the shaft shows.
LEAST_GAP_MM = 2.0
# Fewer points, as set by hand, show no circle.
FEWEST_POINTS = 5


def out_of_round(joint: Joint, choice: Choice) -> tuple[RimName, ...]:
    """Name the ends whose points do not lie on a circle round the shaft.

    Parameters
    ----------
    joint : Joint
        With the rims of `choice`.
    choice : Choice
    """
    rims, s_mm = joint.observations.rims, joint.solution.rim_s_mm
    at = ResidualModel(joint.observations).evaluate(joint.solution.theta)
    judged = {RimName.SEAL, RimName.FAR_END}
    gap_mm = s_mm.get(RimName.FAR_END, np.inf) - s_mm.get(RimName.MARKER_FAR, -np.inf)
    if choice.touching or gap_mm < LEAST_GAP_MM:
        judged.remove(RimName.FAR_END)
    return tuple(
        rim.name
        for rim, off in zip(rims, at.rims, strict=True)
        if rim.name in judged
        and len(off) >= FEWEST_POINTS
        and float(np.std(off)) > OUT_OF_ROUND_SDS * choice.shares[rim.name]
    )


def without_ends(choice: Choice, names: tuple[RimName, ...], layout: Layout, why: str) -> Choice:
    """Leave ends out, and say why: "what was found as the seal's edge ..."."""
    said = {
        RimName.SEAL: (Reason.SEAL_HIDDEN, "seal's edge"),
        RimName.FAR_END: (Reason.FAR_END_HIDDEN, f"edge of the {layout.far_end}"),
    }
    notes = tuple(
        Note(reason, LengthName.EXPOSED, f"what was found as the {edge} {why}")
        for name, (reason, edge) in said.items()
        if name in names
    )

    return replace(
        choice,
        rims={name: rim for name, rim in choice.rims.items() if name not in names},
        unrefined={name: rim for name, rim in choice.unrefined.items() if name not in names},
        targets={name: target for name, target in choice.targets.items() if name not in names},
        notes=(*notes, *choice.notes),
    )

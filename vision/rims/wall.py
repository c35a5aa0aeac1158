"""How far the wall of a clamp or axle foot stands off the shaft: seen from behind, its near edge hides where it ends.

The wall that faces the camera is not seen in profile; those to either side are. Clamps and feet are bored out of one
piece with walls much alike all round, but for bolts, lugs and what leads to the other leg.
"""

from __future__ import annotations

import numpy as np

from vision.geometry.views import READER_STEP_MM
from vision.networks.classes import Part, PartMap
from vision.rims.candidates import RimCandidate

# Stretch beyond the last column of the edge in which the walls are looked at, mm: edges seen aslant are arcs.
LOOKED_AT_MM = (2.0, 5.0)
# More than this on one side, mm, is no wall: a clamp's way to the other leg, a brake.
THICKEST_MM = 15.0
# Standard uncertainty of the facing wall as the mean of those seen, mm: either wall of one piece differs from their
# mean by 2.6 mm (41 shafts on real photographs, up to 12 mm thick); times the root of one and a half, and rounded up.
WALL_SD_MM = 4.0
# Where neither side is seen: mean of the same walls, and a wider uncertainty.
UNSEEN_MM, UNSEEN_SD_MM = 5.0, 6.0


def facing_wall_mm(parts: PartMap, rim: RimCandidate) -> tuple[float, float]:
    """Estimate the height over the shaft of a far end's wall towards the camera.

    Parameters
    ----------
    parts : PartMap
    rim : RimCandidate
        Where the shaft is seen to end.

    Returns
    -------
    height_mm, sd_mm : float
    """
    last = int(np.max(rim.rows))
    first, end = (last + round(mm / READER_STEP_MM) for mm in LOOKED_AT_MM)
    ends = parts.ends_u(Part.FAR_END, slice(first, end))
    walls = [(abs(u) - 1) * parts.frame.cylinder.radius_mm for u in ends] if ends is not None else []
    seen = [wall for wall in walls if wall <= THICKEST_MM]
    if not seen:
        return UNSEEN_MM, UNSEEN_SD_MM
    return max(float(np.mean(seen)), 0.0), WALL_SD_MM

"""Whether what ends the bare shaft is its far end: clear, square to the shaft, in one place, and no gaiter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.names import LengthName
from vision.networks.classes import Part, PartMap
from vision.reading import Layout, Note
from vision.reasons import Reason
from vision.rims.candidates import Borders, RimCandidate
from vision.rims.choose_marker import FEW_CLARITY, FEW_SHARE
from vision.rims.evidence import Evidence

# Least clarity of seal and far end. Of those of 2,112 scenes kept out of training whose clarity times share is less,
# one in 13 is wrong, of the others one in a hundred.
END_CLARITY = 0.7
# Longest lower clamp or axle foot along the leg, mm (trade figures: 25 to 60), and the greatest distance at which a
# further clamp would show; what comes between is a gaiter.
LONGEST_CLAMP_MM, CLAMPS_APART_MM = 90.0, 120.0
# Least distance of such a further end, mm, least share of the columns that show it, and half-width, radii, of the
# columns in which the clamp's length is measured.
NEXT_END_MM, NEXT_END_SHARE, CLAMP_MIDDLE_U = 10.0, 0.5, 0.5
# The far end is ambiguous where columns of this share of its weight end earlier by so many mm: of 110 photos one showed
# the shaft once more in a polished clamp.
SECOND_END_SHARE, SECOND_END_MM = 0.2, 3.0
# A far end is square to the axis. An edge that is tilted across the view by more than this, rad, and by more than this,
# mm, per radius is that of something before it, such as a fender: of 110 far ends of photographs the largest tilts are
# 0.037 rad, of rods of 5 to 7 mm radius 0.11 rad but 0.5 mm; a fender's edge has 0.078 rad and 1.3 mm. Clamps and feet
# are machined square to a degree.
TILT_LIMIT, TILT_LIMIT_MM = 0.06, 1.0
_BARE, _FAR = (Part.SHAFT, Part.MARKER), (Part.FAR_END,)


@dataclass(frozen=True)
class FarEnd:
    """The far end found: `ends_shaft` is the border at which the shaft ends, `rim` the same where it is the far end.

    `aslant`: something that stands before the end, and is not square to the shaft, ends it.
    """

    rim: RimCandidate | None
    ends_shaft: RimCandidate | None
    note: Note | None
    aslant: bool = False


def find_far_end(found: Borders, layout: Layout, seal: RimCandidate | None, evidence: Evidence) -> FarEnd:
    """Find the far end, or the note that says why there is none."""
    ends = found.rims(_BARE, _FAR)
    far = clearest(ends)
    aslant = False
    if far is None:
        why = f"the edge of the {layout.far_end} was not found"
    elif layout is not Layout.SHOCK and _gaiter(found.parts, far, ends):
        why = "the part that ends the bare shaft is no clamp. If it is a gaiter, set the rims by hand with --rims"
    elif aslant := _tilted(far, found.parts.frame):
        why = "the edge that ends the bare shaft is not square to it: something stands before the end"
    elif _ends_earlier(far, [c for c in ends if evidence.may_be_far_end(c, seal)]):
        why = f"the edge of the {layout.far_end} was found in two places"
    else:
        return FarEnd(far, far, None)
    return FarEnd(None, far, Note(Reason.FAR_END_HIDDEN, LengthName.EXPOSED, why), aslant)


def _tilted(rim: RimCandidate, frame: ReaderFrame) -> bool:
    """Whether an edge, unrolled on the shaft, runs aslant across it."""
    s_mm, _ = frame.cylinder.unroll(frame.points_cam(rim.rows, rim.u))
    per_radius_mm = abs(float(np.polyfit(rim.u, s_mm, 1)[0]))
    return per_radius_mm > max(TILT_LIMIT_MM, TILT_LIMIT * frame.cylinder.radius_mm)


def _ends_earlier(far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether other columns show the shaft end well before its far end."""
    return any(c.s_mm < far.s_mm - SECOND_END_MM and c.weight > SECOND_END_SHARE * far.weight for c in ends)


def _gaiter(parts: PartMap, far: RimCandidate, ends: list[RimCandidate]) -> bool:
    """Whether the part after the bare shaft is too long for a clamp or a foot, or is followed by bare shaft again."""
    beyond = (far.s_mm + NEXT_END_MM, far.s_mm + CLAMPS_APART_MM)
    if any(beyond[0] < c.s_mm < beyond[1] and c.share > NEXT_END_SHARE for c in ends):
        return True
    middle = np.abs(parts.frame.u()) < CLAMP_MIDDLE_U
    seen = parts.probabilities[Part.FAR_END][:, middle].mean(axis=1)
    follows = seen[int(np.median(far.rows)) + 2 :] > 0.5
    length = len(follows) if follows.all() else int(np.argmin(follows))
    return length * READER_STEP_MM > LONGEST_CLAMP_MM


def clearest(group: list[RimCandidate]) -> RimCandidate | None:
    """Best supported rim of a group, if it is clear enough."""
    if not group or group[0].clarity < END_CLARITY:
        return None
    # Few columns must be all the clearer: a coil's shadow fills two or three.
    return group[0] if group[0].clarity >= FEW_CLARITY or group[0].share >= FEW_SHARE else None

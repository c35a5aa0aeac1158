"""Standard uncertainty of a rim's place along the shaft, from how widely the networks' classes change there.

How the values were fitted, and to how many rims: docs/measurement-model.md, "Rims".
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot

import numpy as np

from vision.adjustment.mixture import half_width
from vision.rims.refine import RimKind


@dataclass(frozen=True)
class RimSigmaModel:
    """Standard uncertainty of a rim of one kind, mm: the root of the sum of squares of three parts.

    Attributes
    ----------
    floor_mm : float
    slant_mm : float
        Times a power of the tangent of the viewing angle: the more of a lip's face is in view, the more easily one of
        its edges is taken for the other.
    transition_factor : float
        Times the transition width.
    slant_power : int
    """

    floor_mm: float
    slant_mm: float
    transition_factor: float
    slant_power: int = 2

    def parts_mm(self, transition_width_mm: float, slant: float, columns: int) -> tuple[float, float, float]:
        """Evaluate the three parts for a rim that so many columns show."""
        return (
            self.floor_mm if columns >= FEW_COLUMNS else FEW_COLUMNS_SIGMA_MM,
            self.slant_mm * abs(slant) ** self.slant_power,
            self.transition_factor * transition_width_mm,
        )


@dataclass(frozen=True)
class AnotherEdge:
    """How often a refined rim of one kind is another edge altogether, by how widely it was seen.

    Of a share 1/(1 + exp(-x)) of them, x = `logit` + `segmentation` * (w / 3 mm - 1) + `refinement` * (w_r / 1 mm - 1).

    Attributes
    ----------
    logit : float
    segmentation : float
    refinement : float
    """

    logit: float
    segmentation: float
    refinement: float

    def share(self, segmented_mm: float, refined_mm: float) -> float:
        """Evaluate the share for the transition widths w of the segmentations and w_r of the refinement, mm."""
        x = self.logit + self.segmentation * (segmented_mm / 3.0 - 1) + self.refinement * (refined_mm - 1.0)
        return 1 / (1 + exp(-x))


# Floor of sigma for rims seen in fewer columns than this, mm.
FEW_COLUMNS, FEW_COLUMNS_SIGMA_MM = 8, 0.18
# Rims of the part segmentation, fitted to 5,744 rims of scenes and 74 of photographs.
SEAL_SIGMA = RimSigmaModel(0.05, 12.0, 0.36, slant_power=4)
MARKER_SIGMA = RimSigmaModel(0.08, 0.8, 0.21)
FAR_END_SIGMA = RimSigmaModel(0.14, 0.0, 0.34)
# Transition width, mm, from which sigma grows faster than in proportion: the rim may be another edge altogether.
VAGUE_TRANSITION_MM = 3.1
# Refined rims, fitted to 1,519 rims of scenes and 181 lengths of photographs; the slants of seal and far end to 208
# ends of photos with exact truth.
REFINED_SIGMA = {
    RimKind.SEAL: RimSigmaModel(0.1, 5.0, 0.4, slant_power=3),
    RimKind.MARKER: RimSigmaModel(0.02, 0.0, 0.35),
    RimKind.FAR_END: RimSigmaModel(0.03, 2.1, 0.32),
}
# Share of the distance between segmentation and refinement that adds to sigma; fitted with the former.
DISAGREEMENT_SHARE = {RimKind.SEAL: 0.25, RimKind.MARKER: 0.28, RimKind.FAR_END: 0.36}
# Share of what the segmentations' transition width exceeds a blurred edge's by, mm, that adds to the sigma of a refined
# seal or far end.
SEGMENTATION_SHARE, BLURRED_EDGE_MM = 0.25, 1.0
# How often such a rim is another edge altogether, and how far that lies away, mm (sd).
ANOTHER_EDGE = {RimKind.SEAL: AnotherEdge(-2.2, 3.8, 1.2), RimKind.FAR_END: AnotherEdge(-3.1, 2.3, 0.0)}
ANOTHER_EDGE_MM = 6.0
# Shape of a rim, for one of 24 points, fitted to 465 rims; slant and transition taken larger than fitted.
SHAPE_SIGMA = RimSigmaModel(0.11, 1.1, 0.8, slant_power=1)


@dataclass(frozen=True)
class RefinedLook:
    """What the sigma of a refined rim depends on.

    Attributes
    ----------
    kind : RimKind
    slant : float
        Tangent of the viewing angle.
    columns : int
        How many show it.
    refined_mm : float
        Transition width of the refinement.
    segmented_mm : float
        Of the part segmentation; the mean of both where two see the rim.
    apart_mm : float
        Distance of the refined position from that of the segmentation which lies farther from it.
    arc_mm : float
        Sigma of the place from the arc along which the columns were put together.
    """

    kind: RimKind
    slant: float
    columns: int
    refined_mm: float
    segmented_mm: float
    apart_mm: float
    arc_mm: float = 0.0


def segmented_sigma_mm(
    model: RimSigmaModel, transition_width_mm: float, slant: float, columns: int, more_mm: float = 0.0
) -> float:
    """Evaluate the sigma of a rim of the part segmentation, `more_mm` added in quadrature."""
    parts_mm = model.parts_mm(transition_width_mm, slant, columns)
    return hypot(*parts_mm[:2], _with_vagueness(parts_mm[2], transition_width_mm), more_mm)


def refined_sigma_mm(look: RefinedLook) -> float:
    """Evaluate the sigma of a refined rim: +-2 of it hold as much of a mixture as of one normal distribution.

    Usually the rim is the one meant, and the more precisely known the more the networks agree. At times it is another
    edge altogether: a groove, a ring, a shadow; then both networks were mostly unsure.
    """
    floor_mm, slant_mm, own_mm = REFINED_SIGMA[look.kind].parts_mm(look.refined_mm, look.slant, look.columns)
    apart_mm = hypot(DISAGREEMENT_SHARE[look.kind] * look.apart_mm, look.arc_mm)
    another = ANOTHER_EDGE.get(look.kind)
    if another is None:
        return hypot(floor_mm, slant_mm, _with_vagueness(own_mm, look.refined_mm), apart_mm)
    vague_mm = SEGMENTATION_SHARE * max(look.segmented_mm - BLURRED_EDGE_MM, 0.0)
    usual_mm = hypot(floor_mm, slant_mm, own_mm, apart_mm, vague_mm)
    share = another.share(look.segmented_mm, look.refined_mm)
    sd_mm = np.array([usual_mm, hypot(usual_mm, ANOTHER_EDGE_MM)])
    return 0.5 * half_width(np.array([1 - share, share]), np.zeros(2), sd_mm)


def _with_vagueness(part_mm: float, transition_width_mm: float) -> float:
    """Let the part of a transition width grow with its cube where that is large."""
    return part_mm * hypot(1.0, (transition_width_mm / VAGUE_TRANSITION_MM) ** 2)

"""Card and diameter as two witnesses of the scale: how far they agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.fit_shaft import ShaftFit
from vision.reading import ScaleCheck
from vision.solve import solve

# More depth than this between card and shaft's middle to reconcile the two: refuse (card.md).
DEPTH_LIMIT_MM = 10.0
# A gap counts only where it is this many times its own doubt and the card's usual place together.
DEPTH_SIGNIFICANCE = 2.5


def scale_check(fit: ShaftFit) -> ScaleCheck:
    """Solve again without knowing how deep the card lies, and say where it would have to lie.

    Parameters
    ----------
    fit : ShaftFit
    """
    free = solve(fit.solution.theta, replace(fit.evidence, use_card_depth=False, rims=()))
    cylinder = free.cylinder
    diameter = cylinder.px_per_mm(free.camera, 0.0)
    # The card alone: the same shaft, were its axis in the card's plane.
    back = cylinder.point_cam - free.depth_mm * free.pose.R_cam_card[:, 2]
    card_scale = diameter * float(np.linalg.norm(cylinder.point_cam) / max(float(np.linalg.norm(back)), 1.0))
    return ScaleCheck(card_scale, diameter, free.depth_mm, free.depth_sd_mm)


def scale_conflict(scale: ScaleCheck, card_depth_sd_mm: float) -> bool:
    """Whether card and diameter contradict each other."""
    doubt = float(np.hypot(scale.depth_gap_sd_mm, card_depth_sd_mm))
    return abs(scale.depth_gap_mm) > max(DEPTH_LIMIT_MM, DEPTH_SIGNIFICANCE * doubt)

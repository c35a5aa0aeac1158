"""Card and diameter as two witnesses of the scale: how far they agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.pose import rotation
from vision.fit_shaft import ShaftFit
from vision.reading import ScaleCheck
from vision.residuals import AZ, LOGF, TURN, camera_of, cylinder_of
from vision.solve import one_step, solve

# More depth than this between card and shaft's middle to reconcile the two: refuse (card.md).
DEPTH_LIMIT_MM = 10.0
# A gap counts only where it is this many times its own doubt.
DEPTH_SIGNIFICANCE = 2.5
# A focal length stated or written in the file that the photo itself contradicts by so many times the doubt of both.
FOCAL_SIGNIFICANCE = 3.0
# How little the second look takes for granted of the focal length (relative sd): crops halve or double it.
FOCAL_FREE_SD = 0.5
# One step of the solve is believed where it stays under this share of what would count: the problem is all but linear
# there.
ONE_STEP_SHARE = 0.6


def scale_check(fit: ShaftFit) -> ScaleCheck:
    """Look again without knowing how deep the card lies, and say where it would have to lie.

    Parameters
    ----------
    fit : ShaftFit
    """
    freed = replace(fit.evidence, use_card_depth=False, rims=())
    theta, covariance = one_step(fit.solution.theta, freed)
    depth_sd = float(np.sqrt(covariance[AZ, AZ]))
    # A weakly held depth is bent by more than a step shows.
    if max(abs(theta[AZ]), DEPTH_SIGNIFICANCE * depth_sd) > ONE_STEP_SHARE * DEPTH_LIMIT_MM:
        free = solve(fit.solution.theta, freed)
        theta, depth_sd = free.theta, free.depth_sd_mm
    cylinder, depth = cylinder_of(theta), float(theta[AZ])
    diameter = cylinder.px_per_mm(camera_of(theta, freed), 0.0)
    # The card alone: the same shaft, were its axis in the card's plane.
    back = cylinder.point_cam - depth * rotation(theta[TURN])[:, 2]
    card_scale = diameter * float(np.linalg.norm(cylinder.point_cam) / max(float(np.linalg.norm(back)), 1.0))
    return ScaleCheck(card_scale, diameter, depth, depth_sd)


def scale_conflict(scale: ScaleCheck) -> bool:
    """Whether card and diameter contradict each other."""
    return abs(scale.depth_gap_mm) > max(DEPTH_LIMIT_MM, DEPTH_SIGNIFICANCE * scale.depth_gap_sd_mm)


def focal_factor(fit: ShaftFit) -> float | None:
    """How many times longer the focal length is than stated, where the photo says so clearly.

    Card and shaft in perspective tell the focal length, if weakly: a photo that was cropped or zoomed after it
    was taken contradicts its own file.

    Parameters
    ----------
    fit : ShaftFit

    Returns
    -------
    float or None
        None where photo and statement agree, or the photo says too little.
    """
    freed = replace(fit.evidence, focal_rel_sd=FOCAL_FREE_SD, rims=())
    # One step tells most photos to agree with their file; the solve itself takes many, so weakly is it held.
    step, covariance = one_step(fit.solution.theta, freed)
    away, sd = float(step[LOGF]), float(np.sqrt(covariance[LOGF, LOGF]))
    if abs(away) < ONE_STEP_SHARE * FOCAL_SIGNIFICANCE * np.hypot(sd, fit.evidence.focal_rel_sd):
        return None
    free = solve(fit.solution.theta, freed)
    away, sd = float(free.theta[LOGF]), float(np.sqrt(free.covariance[LOGF, LOGF]))
    doubt = float(np.hypot(sd, fit.evidence.focal_rel_sd))
    return float(np.exp(away)) if abs(away) > FOCAL_SIGNIFICANCE * doubt else None

"""The focal length that card and shaft show, and its use where it contradicts the one stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.adjustment.focal_mixture import FALSE_SD
from vision.adjustment.parameters import LOGF
from vision.adjustment.solve import gauss_newton_step, solve
from vision.geometry.views import ReaderFrame
from vision.shaft.fit import ShaftFit

# Reject the prior focal length if it differs from the fitted one by more than this many combined sigma.
FOCAL_SIGNIFICANCE = 3.0
# Least part cut off, of the longer side, where the focal length is not the photo's [judgement, no source].
CUT_SHARE = 0.1
# Relative standard uncertainty of the focal length when it is fitted without its prior: crops halve or double it.
FOCAL_FREE_SD = 0.5
# The photo's own focal length is taken up to this factor beside the one stated: a phone's other lens, or a photo cut to
# a third. More is a number out of place.
FOCAL_FACTOR_LIMIT = 3.0
# The problem is all but linear within this share of the limit: one Gauss-Newton step replaces the solve there.
LINEAR_SHARE = 0.6


def focal_factor(fit: ShaftFit) -> float | None:
    """Ratio of the fitted focal length to its prior, where they contradict each other.

    The perspective of card and shaft determines the focal length, if weakly: a photo that was cropped or zoomed after
    it was taken contradicts its own file.

    Parameters
    ----------
    fit : ShaftFit

    Returns
    -------
    float or None
        None where both agree within `FOCAL_SIGNIFICANCE`.
    """
    # What card and diameter disagree by is no evidence: a card off the centre line explains it as well.
    freed = replace(fit.observations, focal_rel_sd=FOCAL_FREE_SD, use_card_depth=False, rims=())
    # One step suffices for most photos; the solve takes many, so weakly is the focal length determined.
    step, covariance = gauss_newton_step(fit.solution.theta, freed)
    away, sd = float(step[LOGF]), float(np.sqrt(covariance[LOGF, LOGF]))
    if abs(away) < LINEAR_SHARE * FOCAL_SIGNIFICANCE * np.hypot(sd, fit.observations.focal_rel_sd):
        return None
    free = solve(fit.solution.theta, freed)
    away, sd = float(free.theta[LOGF]), float(np.sqrt(free.covariance[LOGF, LOGF]))
    combined_sd = float(np.hypot(sd, fit.observations.focal_rel_sd))
    return float(np.exp(away)) if abs(away) > FOCAL_SIGNIFICANCE * combined_sd else None


def ran_away(fit: ShaftFit) -> bool:
    """Whether the fit bent the lens beyond any phone's to meet its silhouettes: they are not those of one shaft."""
    return bool(abs(fit.solution.theta[LOGF]) > np.log(FOCAL_FACTOR_LIMIT))


def with_own_focal(fit: ShaftFit, factor: float) -> ShaftFit:
    """Solve with the focal length that card and shaft show, where the prior contradicts it.

    Whoever cut the photo, or took it with another lens, did so somewhere: the lens's axis may lie as far off the middle
    as the part cut off allows.

    Parameters
    ----------
    fit : ShaftFit
    factor : float
        From `focal_factor`.
    """
    camera = fit.observations.camera
    long_px = 2 * max(camera.cx_px, camera.cy_px) + 1
    cut_sd_px = max(abs(factor - 1), CUT_SHARE) * long_px / np.sqrt(12)
    observations = replace(
        fit.observations,
        focal_rel_sd=FALSE_SD,
        centre_sd_px=max(fit.observations.centre_sd_px, float(cut_sd_px)),
    )
    solution = solve(fit.solution.theta, observations)
    frame = fit.frame and ReaderFrame(solution.cylinder, solution.camera, fit.frame.s0_mm)
    return ShaftFit(solution, observations, frame)


def focal_remark(factor: float) -> str:
    """Say that the photo's own perspective was used."""
    return (
        f"Card and shaft appear as through a lens of {factor:.2f} times the focal length stated or assumed: the "
        "photo was cut, or another lens took it. What the photo itself shows was used, which makes the uncertainty "
        "larger."
    )

"""Consistency checks of the fit: card against diameter, focal length, exposure, width of the segmented shaft."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.pose import rotation
from vision.adjustment.parameters import AZ, LOGF, TURN, camera_of, cylinder_of
from vision.adjustment.solve import gauss_newton_step, solve
from vision.geometry.views import READER_COLUMNS, READER_REACH
from vision.networks.classes import Part, PartMap
from vision.reading import ScaleCheck
from vision.shaft.fit import ShaftFit

# Card and diameter contradict each other if the depth that reconciles them is more than this, mm (card.md), and more
# than so many times its standard uncertainty.
DEPTH_LIMIT_MM = 10.0
DEPTH_SIGNIFICANCE = 2.5
# Reject the prior focal length if it differs from the fitted one by more than this many combined sigma.
FOCAL_SIGNIFICANCE = 3.0
# Relative standard uncertainty of the focal length when it is fitted without its prior: crops halve or double it.
FOCAL_FREE_SD = 0.5
# The problem is all but linear within this share of either limit: one Gauss-Newton step replaces the solve there.
LINEAR_SHARE = 0.6
# The shaft is too dark where nine tenths of it lie below the first code value, too bright where they lie above the
# second: rounding and JPEG leave no edge on it (a black bumper on a black shaft was found 9 mm off; of the darkest of
# the 37 photos a tenth lies above 8.3).
BLACK_CODES, WHITE_CODES = 3.0, 252.0
BLACK_PERCENTILE, WHITE_PERCENTILE = 90, 10
# Columns in which exposure is judged, radii from the axis; probability from which a point counts as shaft; least number
# of such points.
LIT_U, LIT_PROBABILITY, MIN_LIT_POINTS = 0.8, 0.5, 50
# Rows count as bare shaft where their middle, to so many radii on either side, has this mean probability; 2 mm of them
# are needed.
MIDDLE_U, BARE_PROBABILITY, MIN_ROWS = 0.4, 0.8, 8
# Largest distance between an end of the segmented shaft and its silhouette, radii: two columns of the view. In all of
# 145 photographs it ended in the silhouette's column or the next.
END_TOLERANCE_U = 0.15


def scale_check(fit: ShaftFit) -> ScaleCheck:
    """Fit the depth of the card without its prior.

    Parameters
    ----------
    fit : ShaftFit
    """
    freed = replace(fit.observations, use_card_depth=False, rims=())
    theta, covariance = gauss_newton_step(fit.solution.theta, freed)
    depth_sd = float(np.sqrt(covariance[AZ, AZ]))
    # A weakly determined depth is not linear enough for one step.
    if max(abs(theta[AZ]), DEPTH_SIGNIFICANCE * depth_sd) > LINEAR_SHARE * DEPTH_LIMIT_MM:
        free = solve(fit.solution.theta, freed)
        theta, depth_sd = free.theta, free.depth_sd_mm
    cylinder, depth = cylinder_of(theta), float(theta[AZ])
    diameter = cylinder.px_per_mm(camera_of(theta, freed), 0.0)
    # Scale by the card alone: the same shaft with its axis in the card's plane.
    back = cylinder.point_cam - depth * rotation(theta[TURN])[:, 2]
    card_scale = diameter * float(np.linalg.norm(cylinder.point_cam) / max(float(np.linalg.norm(back)), 1.0))
    return ScaleCheck(card_scale, diameter, depth, depth_sd)


def scale_conflict(scale: ScaleCheck) -> bool:
    """Whether card and diameter contradict each other."""
    return abs(scale.depth_gap_mm) > max(DEPTH_LIMIT_MM, DEPTH_SIGNIFICANCE * scale.depth_gap_sd_mm)


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
    freed = replace(fit.observations, focal_rel_sd=FOCAL_FREE_SD, rims=())
    # One step suffices for most photos; the solve takes many, so weakly is the focal length determined.
    step, covariance = gauss_newton_step(fit.solution.theta, freed)
    away, sd = float(step[LOGF]), float(np.sqrt(covariance[LOGF, LOGF]))
    if abs(away) < LINEAR_SHARE * FOCAL_SIGNIFICANCE * np.hypot(sd, fit.observations.focal_rel_sd):
        return None
    free = solve(fit.solution.theta, freed)
    away, sd = float(free.theta[LOGF]), float(np.sqrt(free.covariance[LOGF, LOGF]))
    combined_sd = float(np.hypot(sd, fit.observations.focal_rel_sd))
    return float(np.exp(away)) if abs(away) > FOCAL_SIGNIFICANCE * combined_sd else None


def exposure_fault(view: np.ndarray, parts: PartMap) -> str | None:
    """Say how the shaft is exposed where that leaves no detail on it.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The reader view.
    parts : PartMap
        Of that view.

    Returns
    -------
    str or None
        None where exposure is sufficient, or too little of the shaft is seen.
    """
    shaft = (parts.probabilities[Part.SHAFT] > LIT_PROBABILITY) & (np.abs(parts.frame.u()) < LIT_U)
    if np.count_nonzero(shaft) < MIN_LIT_POINTS:
        return None
    codes = view[shaft].mean(axis=1)
    bright, dark = np.percentile(codes, (BLACK_PERCENTILE, WHITE_PERCENTILE))
    if bright < BLACK_CODES:
        return "the shaft is black in the photo"
    if dark > WHITE_CODES:
        return "the shaft is overexposed in the photo"
    return None


def width_mismatch(parts: PartMap) -> float | None:
    """Cross-check the width of the segmented shaft against its silhouettes.

    The only check where one silhouette alone was found, or reflections passed for both.

    Parameters
    ----------
    parts : PartMap
        Of a view along the silhouettes.

    Returns
    -------
    float or None
        Ratio of the segmented width to that of the silhouettes; None where both ends agree, or too little bare shaft
        is seen.
    """
    middle = parts.probabilities[Part.SHAFT][:, np.abs(parts.frame.u()) < MIDDLE_U]
    rows = np.flatnonzero(middle.mean(axis=1) > BARE_PROBABILITY)
    ends = parts.ends_u(Part.SHAFT, rows) if len(rows) >= MIN_ROWS else None
    if ends is None:
        return None
    half_column = READER_REACH / READER_COLUMNS
    low, high = half_column - ends[0], half_column + ends[1]
    off = max(abs(low - 1), abs(high - 1))
    return 0.5 * (low + high) if off > END_TOLERANCE_U + half_column else None

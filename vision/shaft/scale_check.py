"""Card and diameter as two witnesses of the scale: how far they agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.pose import rotation
from vision.adjustment.residuals import AZ, LOGF, TURN, camera_of, cylinder_of
from vision.adjustment.solve import gauss_newton_step, solve
from vision.geometry.views import READER_COLUMNS, READER_REACH, ReaderFrame
from vision.networks.classes import Part
from vision.reading import ScaleCheck
from vision.rims.candidates import ends_u
from vision.shaft.fit import ShaftFit

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
    freed = replace(fit.observations, use_card_depth=False, rims=())
    theta, covariance = gauss_newton_step(fit.solution.theta, freed)
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
    freed = replace(fit.observations, focal_rel_sd=FOCAL_FREE_SD, rims=())
    # One step tells most photos to agree with their file; the solve itself takes many, so weakly is it held.
    step, covariance = gauss_newton_step(fit.solution.theta, freed)
    away, sd = float(step[LOGF]), float(np.sqrt(covariance[LOGF, LOGF]))
    if abs(away) < ONE_STEP_SHARE * FOCAL_SIGNIFICANCE * np.hypot(sd, fit.observations.focal_rel_sd):
        return None
    free = solve(fit.solution.theta, freed)
    away, sd = float(free.theta[LOGF]), float(np.sqrt(free.covariance[LOGF, LOGF]))
    doubt = float(np.hypot(sd, fit.observations.focal_rel_sd))
    return float(np.exp(away)) if abs(away) > FOCAL_SIGNIFICANCE * doubt else None


# Where nine tenths of the shaft lie below so many code values, or above so many, rounding and JPEG leave no edge on it:
# a black bumper on a black shaft was then found 9 mm off. Of the darkest of the 37 photos a tenth lies above 8.3.
BLACK_CODES, WHITE_CODES = 3.0, 252.0
BLACK_SHARE, WHITE_SHARE = 90, 10
# Columns in use, radii from the axis; probability from which a point counts as shaft; how many there must be.
LIT_U, LIT_PROBABILITY, MIN_LIT_POINTS = 0.8, 0.5, 50


def exposure_fault(view: np.ndarray, classes: np.ndarray, u: np.ndarray) -> str | None:
    """Say how the shaft is lit where that leaves nothing to see.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The reader view.
    classes : ndarray of shape (7, rows, columns)
        What it shows.
    u : ndarray of shape (columns,)
        Lateral places of its columns, radii.

    Returns
    -------
    str or None
        None where it is lit well enough, or too little of it is seen to tell.
    """
    shaft = (classes[Part.SHAFT] > LIT_PROBABILITY) & (np.abs(u) < LIT_U)
    if np.count_nonzero(shaft) < MIN_LIT_POINTS:
        return None
    codes = view[shaft].mean(axis=1)
    bright, dark = np.percentile(codes, (BLACK_SHARE, WHITE_SHARE))
    if bright < BLACK_CODES:
        return "the shaft is black in the photo"
    if dark > WHITE_CODES:
        return "the shaft is burnt out in the photo"
    return None


# Rows whose middle shows bare shaft this surely, so far to either side, are looked at; there must be 2 mm of them.
MIDDLE_U, SURE, LEAST_ROWS = 0.4, 0.8, 8
# On either side the shaft must end within this of its silhouette, radii: two of the view's columns. In all of 145
# photographs it ended in the column that the silhouette goes through, or the next.
NEAR_U = 0.15


def width_mismatch(classes: np.ndarray, frame: ReaderFrame) -> float | None:
    """How wide the shaft looks, against what diameter and silhouettes say, where that is not 1.

    Where one silhouette alone was seen, or reflections passed for both, nothing else tells.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
        Class probabilities of the reader view.
    frame : ReaderFrame
        Of that view, laid along the silhouettes.

    Returns
    -------
    float or None
        None where both sides end where they should, or too little bare shaft is seen.
    """
    middle = classes[Part.SHAFT][:, np.abs(frame.u()) < MIDDLE_U]
    rows = np.flatnonzero(middle.mean(axis=1) > SURE)
    ends = ends_u(classes, Part.SHAFT, rows, frame) if len(rows) >= LEAST_ROWS else None
    if ends is None:
        return None
    half_column = READER_REACH / READER_COLUMNS
    low, high = half_column - ends[0], half_column + ends[1]
    off = max(abs(low - 1), abs(high - 1))
    return 0.5 * (low + high) if off > NEAR_U + half_column else None

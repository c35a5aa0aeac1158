"""Corners of the card that do not lie where all others put them: under a smudge's edge, a highlight, a finger's shadow.

A corner is found where four squares seem to cross. What covers a part of one of them moves it by up to a pixel, and one
such corner at the card's end turns card and lens by more than all others together are uncertain by. All others predict
where it lies, whatever lens took the photo, however the card is curled and the pixels were scaled: so one that is far
from there is left out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.camera import ASPECT_SD, Camera
from calibration.errors import CalibrationError
from calibration.find_card import CORNERS_NEEDED, CardSighting
from vision.adjustment.bend_mixture import CURLED
from vision.adjustment.focal_mixture import FALSE_SD
from vision.adjustment.observations import Observations, PriorInputs
from vision.adjustment.residuals import ResidualModel
from vision.adjustment.solve import covariance_of, solve, theta_of_card

# Distance of a corner from where all corners put it, in standard uncertainties along either axis, from which it is
# stray: of normal errors one corner in 3,000 lies so far off, one photo in 100 loses one.
STRAY_SDS = 4.0
# Largest share of the corners that may be stray: where more are, the paper is no developable surface, or the picture
# is warped, and which corners are right nothing says.
MOST_STRAY_SHARE = 0.25
# Least share of a corner's error that stays in its residual: keeps the division regular.
LEAST_OWN = 0.05
# From the median of absolute deviations to the standard deviation of a normal distribution.
_SD_OF_MEDIAN = 1.4826


def without_stray_corners(
    sighting: CardSighting, camera: Camera, declared: PriorInputs, centre_sd_px: float, reshaped: bool
) -> CardSighting:
    """Leave out the corners that contradict all others, the worst first.

    Parameters
    ----------
    sighting : CardSighting
    camera : Camera
        As stated; its focal length is as free as any photo's may be.
    declared : PriorInputs
    centre_sd_px : float
        Standard uncertainty of the principal point.
    reshaped : bool
        Whether the photo's sides may have been scaled unequally.

    Returns
    -------
    CardSighting
        As it was where no corner is stray, or too many are.
    """
    none = np.zeros((0, 2))
    observations = Observations(
        sighting, camera, FALSE_SD, declared, none, none,
        centre_sd_px=centre_sd_px, bend_sd_mm=CURLED.sd, aspect_extra_sd=ASPECT_SD if reshaped else 0.0,
    )  # fmt: skip
    everyone = np.ones(len(sighting.corner_ids), bool)
    most = int(MOST_STRAY_SHARE * len(everyone))
    stay = everyone.copy()
    try:
        if _off_sds(observations, stay, solved=False).max() <= STRAY_SDS:
            return sighting
        while True:
            off_sds = _off_sds(observations, stay)
            worst = int(np.argmax(np.where(stay, off_sds, 0.0)))
            if off_sds[worst] <= STRAY_SDS:
                break
            stay[worst] = False
            if everyone.sum() - stay.sum() > most or stay.sum() < CORNERS_NEEDED:
                return sighting
    except CalibrationError:
        return sighting  # said where the pose is needed
    # Strays draw their neighbours' residuals along: what fits without them is taken back.
    stay |= off_sds <= STRAY_SDS
    return sighting if stay.all() else _only(sighting, stay)


def _only(sighting: CardSighting, which: np.ndarray) -> CardSighting:
    return replace(sighting, corner_ids=sighting.corner_ids[which], corners_px=sighting.corners_px[which])


def _off_sds(observations: Observations, stay: np.ndarray, solved: bool = True) -> np.ndarray:
    """Distance of each corner from where those that stay put it, in standard uncertainties; shape (n,).

    The part of its own error that a corner takes the card along by is undone (studentised residuals; Huber and
    Ronchetti 2009, 7.2). Not `solved`, the residuals are those of one linear step from the card's pose alone: of 118
    photos the largest is the same to 0.4 (0.2 of most), in a tenth of the time.
    """
    kept = replace(observations, sighting=_only(observations.sighting, stay))
    theta = theta_of_card(kept)
    if solved:
        found = solve(theta, kept)
        at, covariance = ResidualModel(observations).evaluate(found.theta), found.covariance
        off = at.corners
    else:
        at = ResidualModel(observations).evaluate(theta)
        covariance = covariance_of(at.jacobian)
        off = (at.residuals - at.jacobian @ (covariance @ (at.jacobian.T @ at.residuals)))[: len(at.corners)]
    by_corners = at.jacobian[: len(off)]
    own = np.einsum("ij,jk,ik->i", by_corners, covariance, by_corners)
    took_part = np.repeat(stay, 2)
    sd = np.sqrt(np.where(took_part, np.maximum(1 - own, LEAST_OWN), 1 + own))
    off = (off / sd).reshape(-1, 2)
    scale = max(1.0, _SD_OF_MEDIAN * float(np.median(np.abs(off[stay]))))
    return np.asarray(np.linalg.norm(off, axis=1) / scale)

"""Whether a photo's width and height were scaled alike, from the card's corners: pixels of cameras are square."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import K1_SD, Camera
from calibration.find_card import CardSighting
from calibration.pose import card_points_mm, card_pose, rotation

# Standard uncertainty of a corner, px; larger residuals widen the result (Birge ratio).
CORNER_SD_PX = 0.1
# Prior standard uncertainties: of the logarithm of the pixel's aspect, where an edited photo was scaled by 0.8 to 1.25;
# of the rise of the card's ends, mm, by curl; of the print's anisotropy [judgement, no source].
ASPECT_SD, BEND_SD_MM, ANISOTROPY_SD = 0.15, 1.5, 0.002
# Half the distance of the outermost corners along the card, mm: where a curl has risen by the bend.
_HALF_LENGTH_MM = 84.0
# Order of the parameters: turn, shift, then these.
_LOGF, _K1, _CENTRE, _BEND, _ANISOTROPY, _ASPECT = 6, 7, slice(8, 10), 10, 11, 12


@dataclass(frozen=True)
class PixelAspect:
    """How much higher than wide a pixel appears.

    Attributes
    ----------
    log : float
        Logarithm of height over width; 0 where they are square.
    sd : float
        Standard uncertainty.
    """

    log: float
    sd: float


@dataclass(frozen=True)
class LensPrior:
    """What is known of the lens beforehand.

    Attributes
    ----------
    camera : Camera
    focal_rel_sd : float
        Relative standard uncertainty of its focal length.
    centre_sd_px : float
        Standard uncertainty of its principal point.
    """

    camera: Camera
    focal_rel_sd: float
    centre_sd_px: float


def pixel_aspect(sighting: CardSighting, lens: LensPrior, along: float, across: float) -> PixelAspect:
    """Estimate the pixels' aspect together with the card's pose, its curl and the lens.

    Parameters
    ----------
    sighting : CardSighting
    lens : LensPrior
    along, across : float
        Print scale, measured over nominal.

    Raises
    ------
    CalibrationError
        The card's pose cannot be found.
    """
    import cv2
    from scipy.optimize import least_squares

    camera = lens.camera
    flat = card_points_mm(sighting.corner_ids, along, across)
    middle_mm = 0.5 * (flat[:, 1].min() + flat[:, 1].max())
    rise = ((flat[:, 1] - middle_mm) / _HALF_LENGTH_MM) ** 2
    pose = card_pose(sighting, camera, along, across)
    start = np.zeros(13)
    start[:3], start[3:6] = cv2.Rodrigues(pose.R_cam_card)[0].ravel(), pose.t_cam_card_mm
    prior_sd = np.array(
        [lens.focal_rel_sd, K1_SD, lens.centre_sd_px, lens.centre_sd_px, BEND_SD_MM, ANISOTROPY_SD, ASPECT_SD]
    )

    def residuals(p: np.ndarray) -> np.ndarray:
        points = flat.copy()
        points[:, 0] *= np.exp(p[_ANISOTROPY])
        points[:, 2] = p[_BEND] * rise
        seen = camera.with_lens(camera.focal_px * float(np.exp(p[_LOGF])), float(p[_K1]))
        centre = np.array([camera.cx_px, camera.cy_px])
        off = seen.project(points @ rotation(p[:3]).T + p[3:6]) - centre
        off[:, 1] *= np.exp(p[_ASPECT])
        corners = (off + centre + p[_CENTRE] - sighting.corners_px) / CORNER_SD_PX
        return np.concatenate([corners.ravel(), p[_LOGF:] / prior_sd])

    found = least_squares(residuals, start, x_scale="jac")
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    # Six parameters are free; each prior weighs about as much as its parameter takes away.
    birge2 = max(1.0, 2 * found.cost / (2 * len(flat) - 6))
    return PixelAspect(float(found.x[_ASPECT]), float(np.sqrt(birge2 * covariance[_ASPECT, _ASPECT])))

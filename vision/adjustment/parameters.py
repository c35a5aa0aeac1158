"""Layout of the parameter vector, its priors, and the camera and shaft that it describes.

See docs/measurement-model.md.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.camera import Camera
from calibration.pose import rotation
from vision.adjustment.observations import (
    BAND_TILT_SD,
    CARD_DEPTH_FREE_SD_MM,
    CARD_TILT_SD,
    MIN_HEIGHT_SD_MM,
    PRINT_ANISOTROPY_SD,
    PRINT_ANISOTROPY_SHARE,
    RIM_TILT_SD,
    S_ORIGIN_ON_CARD_MM,
    Observations,
)
from vision.geometry.cylinder import Cylinder

# Order of the first parameters; rims follow with (s, offset px, height, tilt up-down, tilt sideways) each.
TURN, SHIFT, LOGF, K1, ALONG, ACROSS, AX, AZ, DX, DZ, R_MM, OFF, CENTRE, BEND, ASPECT = (
    slice(0, 3), slice(3, 6), 6, 7, 8, 9, 10, 11, 12, 13, 14, slice(15, 17), slice(17, 19), 19, 20,
)  # fmt: skip
FIXED = 21
PER_RIM = 5


def cylinder_of(theta: np.ndarray) -> Cylinder:
    """Build the shaft of a parameter vector, in camera coordinates."""
    R = rotation(theta[TURN])
    direction = np.array([theta[DX], 1.0, theta[DZ]])
    direction /= np.linalg.norm(direction)
    point = R @ np.array([theta[AX], S_ORIGIN_ON_CARD_MM, theta[AZ]]) + theta[SHIFT]
    return Cylinder(point, R @ direction, float(theta[R_MM]))


def camera_of(theta: np.ndarray, observations: Observations) -> Camera:
    """Build the camera of a parameter vector."""
    camera, (dx_px, dy_px) = observations.camera, theta[CENTRE].tolist()
    # In one step: an evaluation of the adjustment builds one.
    return replace(
        camera,
        focal_px=camera.focal_px * float(np.exp(theta[LOGF])),
        k1=float(theta[K1]),
        log_aspect=camera.log_aspect + float(theta[ASPECT]),
        cx_px=camera.cx_px + dx_px,
        cy_px=camera.cy_px + dy_px,
    )


def priors(observations: Observations) -> tuple[np.ndarray, np.ndarray]:
    """Build the priors' normalised residuals ``matrix @ theta - mean``."""
    e, d = observations, observations.declared
    known = [
        (LOGF, 0.0, e.focal_prior_sd),
        (K1, 0.0, e.k1_sd),
        (ALONG, d.print_along, d.print_sd),
        (R_MM, d.diameter_mm / 2, d.diameter_sd_mm / 2),
        (DZ, 0.0, CARD_TILT_SD),
        (BEND, 0.0, e.bend_sd_mm),
        (ASPECT, 0.0, e.aspect_prior_sd),
        (AZ, e.card_depth_mm, e.card_depth_sd_mm if e.use_card_depth else CARD_DEPTH_FREE_SD_MM),
        *((k, 0.0, sd) for k, sd in zip((OFF.start, OFF.start + 1), e.side_sd_px, strict=True)),
        *((k, 0.0, e.centre_sd_px) for k in (CENTRE.start, CENTRE.start + 1)),
    ]
    for i, rim in enumerate(e.rims):
        k, tilt_sd = FIXED + PER_RIM * i, BAND_TILT_SD if rim.tilts else RIM_TILT_SD
        known += [(k + 1, 0.0, rim.sd_px), (k + 2, 0.0, max(rim.height_sd_mm, MIN_HEIGHT_SD_MM))]
        known += [(k + 3, 0.0, tilt_sd), (k + 4, 0.0, tilt_sd)]
    matrix = np.zeros((len(known) + 1, FIXED + PER_RIM * len(e.rims)))
    mean = np.zeros(len(known) + 1)
    for row, (k, value, sd) in enumerate(known):
        matrix[row, k], mean[row] = 1 / sd, value / sd
    # A print scale measured along only applies across, too, within this.
    sd = max(PRINT_ANISOTROPY_SD, PRINT_ANISOTROPY_SHARE * d.print_sd)
    matrix[-1, ACROSS], matrix[-1, ALONG] = 1 / sd, -1 / sd
    mean[-1] = (d.print_across - d.print_along) / sd
    return matrix, mean

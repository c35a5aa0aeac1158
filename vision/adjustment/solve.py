"""Joint least-squares adjustment of card pose, lens, print scale, shaft and rims, with its covariance.

Observations: the card's corners, points on the shaft's two silhouettes, points on the rims. Priors: focal length,
distortion, principal point, print scale, diameter, depth and tilt of the card relative to the shaft. Errors common to
a whole edge (halo, tone curve, a shaded limb) are parameters: one offset for each silhouette and each rim. Equations:
docs/measurement-model.md.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calibration.camera import Camera
from calibration.card import BOARD_WIDTH_MM
from calibration.pose import CardPose, card_pose, rotation
from vision.adjustment.levenberg_marquardt import Tolerance, minimum
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import (
    ACROSS,
    ALONG,
    ASPECT,
    AX,
    AZ,
    CENTRE,
    DX,
    DZ,
    FIXED,
    K1,
    LOGF,
    PER_RIM,
    R_MM,
    SHIFT,
    TURN,
    camera_of,
    cylinder_of,
)
from vision.adjustment.residuals import ResidualModel, Residuals
from vision.geometry.cylinder import Cylinder
from vision.names import RimName

# Added to the normal matrix: 1e4 units of each parameter.
REGULARISATION = 1e-8
# With a gain of 1e-9 a fifth more steps, and lengths that differ by 0.0001 mm at the most [measured].
TOLERANCE = Tolerance(gain=1e-6, step=1e-8, evaluations=60)


@dataclass(frozen=True)
class Solution:
    """Result of the adjustment.

    Attributes
    ----------
    cylinder : Cylinder
        s = 0 at the card's middle.
    rim_s_mm : dict of RimName to float
    rim_covariance_mm2 : ndarray of shape (n_rims, n_rims)
        In the order of `rim_s_mm`.
    depth_mm, depth_sd_mm : float
        Distance of the axis behind the card's plane at the card's middle.
    corner_rms_px : float
        Root mean square of the corners' residuals.
    """

    camera: Camera
    pose: CardPose
    cylinder: Cylinder
    rim_s_mm: dict[RimName, float]
    rim_covariance_mm2: np.ndarray
    depth_mm: float
    depth_sd_mm: float
    corner_rms_px: float
    theta: np.ndarray = field(repr=False)
    covariance: np.ndarray = field(repr=False)


def initial_theta(pose: CardPose, axis_x_mm: float, slope: float, observations: Observations) -> np.ndarray:
    """Start from the card's pose alone and an axis in the card's plane.

    Parameters
    ----------
    pose : CardPose
    axis_x_mm, slope : float
        Axis in the card's plane: x = axis_x_mm + slope (y - 84 mm), true mm.
    observations : Observations
    """
    import cv2

    theta = np.zeros(FIXED + PER_RIM * len(observations.rims))
    theta[TURN] = cv2.Rodrigues(pose.R_cam_card)[0].ravel()
    theta[SHIFT] = pose.t_cam_card_mm
    theta[ALONG], theta[ACROSS] = observations.declared.print_along, observations.declared.print_across
    theta[AX], theta[DX] = axis_x_mm, slope
    theta[R_MM] = observations.declared.diameter_mm / 2
    return theta


def theta_of_card(observations: Observations) -> np.ndarray:
    """Start from the card's pose, where the shaft is not looked at: its axis lies beyond the card.

    Raises
    ------
    CalibrationError
        The pose cannot be found.
    """
    d = observations.declared
    pose = card_pose(observations.sighting, observations.camera, d.print_along, d.print_across)
    return initial_theta(pose, 2 * BOARD_WIDTH_MM, 0.0, observations)


def solve(theta: np.ndarray, observations: Observations) -> Solution:
    """Solve for all parameters at once.

    Parameters
    ----------
    theta : ndarray
        From `initial_theta`, or an earlier solution's `theta` with the same number of rims.
    observations : Observations

    Returns
    -------
    Solution
        Covariance by linear propagation (JCGM 100, 5.2).
    """
    model = ResidualModel(observations)

    theta = theta.copy()
    for i, rim in enumerate(observations.rims):
        base = FIXED + PER_RIM * i
        if theta[base] == 0.0:
            s, _ = cylinder_of(theta).unroll(camera_of(theta, observations).rays(rim.points_px))
            theta[base] = np.nanmedian(s) if np.any(np.isfinite(s)) else 0.0
    scale = np.full(len(theta), 1.0)
    scale[ASPECT] = 0.01
    scale[TURN], scale[LOGF], scale[K1], scale[DX], scale[DZ] = 0.01, 0.01, 0.01, 0.01, 0.01
    scale[ALONG] = scale[ACROSS] = 0.001
    scale[R_MM] = 0.02
    scale[CENTRE] = 5.0

    def evaluate(p: np.ndarray) -> _Evaluated:
        by_theta = model.evaluate(_to_theta(p))
        return _Evaluated(by_theta, by_theta.residuals, _by_solved(by_theta.jacobian, p))

    found = minimum(evaluate, _from_theta(theta), scale, TOLERANCE)
    theta, last = _to_theta(found.parameters), found.last.by_theta
    covariance = covariance_of(last.jacobian)
    index = [FIXED + PER_RIM * i for i in range(len(observations.rims))]
    R = rotation(theta[TURN])
    corner_rms = float(np.sqrt(2 * np.mean(last.corners**2)) * observations.corner_sd_px)
    return Solution(
        camera=camera_of(theta, observations),
        pose=CardPose(R, theta[SHIFT].copy(), corner_rms),
        cylinder=cylinder_of(theta),
        rim_s_mm={rim.name: float(theta[k]) for rim, k in zip(observations.rims, index, strict=True)},
        rim_covariance_mm2=covariance[np.ix_(index, index)],
        depth_mm=float(theta[AZ]),
        depth_sd_mm=float(np.sqrt(covariance[AZ, AZ])),
        corner_rms_px=corner_rms,
        theta=theta,
        covariance=covariance,
    )


@dataclass(frozen=True)
class _Evaluated:
    """Residuals at one point, and their derivatives with respect to the parameters solved for."""

    by_theta: Residuals
    residuals: np.ndarray
    jacobian: np.ndarray


# A picture shows the card's distance over the focal length: a free focal length moves both along a bent valley, on
# which the solver took 17 to 60 steps, and 4 to 13 where it solves for that ratio [measured on two samples].
_DISTANCE = SHIFT.stop - 1


def _from_theta(theta: np.ndarray) -> np.ndarray:
    """Convert to the parameters solved for: the card's distance over the focal length's factor in place of it."""
    p = theta.copy()
    p[_DISTANCE] *= np.exp(-theta[LOGF])
    return p


def _to_theta(p: np.ndarray) -> np.ndarray:
    """Convert from the parameters solved for."""
    theta = p.copy()
    theta[_DISTANCE] *= np.exp(p[LOGF])
    return theta


def _by_solved(by_theta: np.ndarray, p: np.ndarray) -> np.ndarray:
    """Convert derivatives with respect to theta to those with respect to the parameters solved for."""
    factor = np.exp(p[LOGF])
    out = by_theta.copy()
    out[:, LOGF] += by_theta[:, _DISTANCE] * p[_DISTANCE] * factor
    out[:, _DISTANCE] *= factor
    return out


def gauss_newton_step(theta: np.ndarray, observations: Observations) -> tuple[np.ndarray, np.ndarray]:
    """Take one Gauss-Newton step.

    Parameters
    ----------
    theta : ndarray of shape (p,)
        A solution for similar observations.
    observations : Observations

    Returns
    -------
    theta : ndarray of shape (p,)
        After the step.
    covariance : ndarray of shape (p, p)
        Before it.
    """
    now = ResidualModel(observations).evaluate(theta)
    covariance = covariance_of(now.jacobian)
    return theta - covariance @ (now.jacobian.T @ now.residuals), covariance


def covariance_of(jacobian: np.ndarray) -> np.ndarray:
    """Covariance of the parameters, from the derivatives of normalised residuals.

    Parameters without observations (a shaft without edges, a rim without points) keep a standard uncertainty of 1e4
    of their unit instead of a division by zero.
    """
    return np.linalg.inv(jacobian.T @ jacobian + REGULARISATION * np.eye(jacobian.shape[1]))

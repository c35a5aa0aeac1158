"""One least-squares solve over card pose, lens, print, shaft and rims, and the covariance of all of them.

What is measured: the card's corners, points on the shaft's two silhouettes, points on the rims. What is
known beforehand, each with its doubt: focal length, distortion, print scale, diameter, the card's depth and
tilt against the shaft. Errors that do not average out along an edge (halo, tone curve, a shaded limb) are
parameters of their own: one offset for each silhouette and each rim.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from calibration.camera import K1_SD, Camera
from calibration.find_card import CardSighting
from calibration.pose import CardPose, card_points_mm, rotation
from vision.cylinder import Cylinder

# Where on the card, mm from its seal-end corner, the shaft's s = 0 lies: the card's middle.
S_ORIGIN_ON_CARD_MM = 84.0
# Standard uncertainty of one corner, px: 0.05 in clean renderings at 5 px/mm, 0.055 to 0.13 in the samples.
CORNER_SD_PX = 0.08
# A point on a silhouette, independent part, px (edge over 64 rows: 0.003 to 0.012; short windows, texture: more).
SILHOUETTE_POINT_SD_PX = 0.25
# A silhouette as a whole, px: what halo and tone curve do to it (project's vision notes).
SILHOUETTE_SD_PX = 0.15
# A rim as a whole, px (project's vision notes), and one of its points.
RIM_SD_PX = 0.25
RIM_POINT_SD_PX = 0.5
# The card's depth against the shaft's middle: the person lays it level by eye (card.md).
CARD_DEPTH_SD_MM = 3.0
# The card's tilt against the axis, rad: laid along the shaft by eye; 1.5 to 2 degrees is common practice.
CARD_TILT_SD = 0.03
# Small-angle tilt of a band round the shaft, rad: up to about 2 degrees for a tie pushed by a seal.
BAND_TILT_SD = 0.02


@dataclass(frozen=True)
class Declared:
    """What the person states, each with its standard uncertainty.

    Attributes
    ----------
    diameter_mm, diameter_sd_mm : float
        Shaft diameter by caliper.
    print_along, print_across, print_sd : float
        Print scale, measured over nominal.
    """

    diameter_mm: float
    diameter_sd_mm: float
    print_along: float = 1.0
    print_across: float = 1.0
    print_sd: float = 0.001


@dataclass(frozen=True)
class RimPoints:
    """Points seen on one rim.

    Attributes
    ----------
    name : str
    points_px : ndarray of shape (n, 2)
    radius_over_mm : float
        How far the seen edge stands proud of the shaft's surface, mm.
    radius_over_sd_mm : float
    sd_px : float
        Standard uncertainty of the rim as a whole, px.
    tilts : bool
        Whether the band may lie tilted on the shaft.
    """

    name: str
    points_px: np.ndarray
    radius_over_mm: float = 0.0
    radius_over_sd_mm: float = 0.0
    sd_px: float = RIM_SD_PX
    tilts: bool = False


@dataclass(frozen=True)
class Evidence:
    """All that was seen and stated for one photo.

    Attributes
    ----------
    sighting : CardSighting
    camera : Camera
        Before the solve; `focal_rel_sd`, `k1_sd` and `centre_sd_px` say how well it is known.
    declared : Declared
    left_px, right_px : ndarray of shape (n, 2)
        Points on the silhouettes at smaller and at larger card x.
    rims : tuple of RimPoints
    use_card_depth : bool
        Whether the card is taken to lie level with the shaft's middle.
    side_sd_px, side_point_sd_px : float
        Standard uncertainty of a silhouette as a whole and of one of its points, px.
    axis_px : ndarray of shape (n, 2)
        Points set by hand on the middle of the shaft, where its silhouettes were not found.
    """

    sighting: CardSighting
    camera: Camera
    focal_rel_sd: float
    declared: Declared
    left_px: np.ndarray
    right_px: np.ndarray
    rims: tuple[RimPoints, ...] = ()
    k1_sd: float = K1_SD
    use_card_depth: bool = True
    centre_sd_px: float = 5.0
    side_sd_px: float = SILHOUETTE_SD_PX
    side_point_sd_px: float = SILHOUETTE_POINT_SD_PX
    axis_px: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))


@dataclass(frozen=True)
class Solution:
    """The solve's result.

    Attributes
    ----------
    cylinder : Cylinder
        s = 0 at the card's middle.
    rim_s_mm : dict of str to float
    rim_covariance_mm2 : ndarray of shape (n_rims, n_rims)
        In the order of `rim_s_mm`.
    depth_mm, depth_sd_mm : float
        How far the axis lies behind the card's plane at the card's middle.
    chi2 : float
        Sum of squared normalised residuals of measurements, and `dof` their count less the parameters'.
    """

    camera: Camera
    pose: CardPose
    cylinder: Cylinder
    rim_s_mm: dict[str, float]
    rim_covariance_mm2: np.ndarray
    depth_mm: float
    depth_sd_mm: float
    corner_rms_px: float
    silhouette_rms_px: float
    theta: np.ndarray = field(repr=False)
    covariance: np.ndarray = field(repr=False)


# Order of the first parameters; rims follow with (s, offset px, height, tilt up-down, tilt sideways) each.
_TURN, _SHIFT, _LOGF, _K1, _ALONG, _ACROSS, _AX, _AZ, _DX, _DZ, _R, _OFF, _CENTRE = (
    slice(0, 3), slice(3, 6), 6, 7, 8, 9, 10, 11, 12, 13, 14, slice(15, 17), slice(17, 19),
)  # fmt: skip
FIXED = 19
PER_RIM = 5


def start_theta(pose: CardPose, axis_x_mm: float, slope: float, evidence: Evidence) -> np.ndarray:
    """Parameters to start from: the card's pose alone, the axis in the card's plane.

    Parameters
    ----------
    pose : CardPose
    axis_x_mm, slope : float
        Axis in the card's plane: x = axis_x_mm + slope (y - 84 mm), true mm.
    evidence : Evidence
    """
    import cv2

    theta = np.zeros(FIXED + PER_RIM * len(evidence.rims))
    theta[_TURN] = cv2.Rodrigues(pose.R_cam_card)[0].ravel()
    theta[_SHIFT] = pose.t_cam_card_mm
    theta[_ALONG], theta[_ACROSS] = evidence.declared.print_along, evidence.declared.print_across
    theta[_AX], theta[_DX] = axis_x_mm, slope
    theta[_R] = evidence.declared.diameter_mm / 2
    return theta


def cylinder_of(theta: np.ndarray) -> Cylinder:
    """The shaft that a parameter vector describes, in camera coordinates."""
    R = rotation(theta[_TURN])
    direction = np.array([theta[_DX], 1.0, theta[_DZ]])
    direction /= np.linalg.norm(direction)
    point = R @ np.array([theta[_AX], S_ORIGIN_ON_CARD_MM, theta[_AZ]]) + theta[_SHIFT]
    return Cylinder(point, R @ direction, float(theta[_R]))


def camera_of(theta: np.ndarray, evidence: Evidence) -> Camera:
    """The camera that a parameter vector describes."""
    camera = evidence.camera.with_lens(
        evidence.camera.focal_px * float(np.exp(theta[_LOGF])), float(theta[_K1])
    )
    return camera.moved_centre(*(float(c) for c in theta[_CENTRE]))


def _residuals(
    theta: np.ndarray, evidence: Evidence
) -> tuple[np.ndarray, np.ndarray, list[np.ndarray], np.ndarray]:
    """Normalised residuals: corners, silhouettes, each rim, priors."""
    camera, cylinder, e, d = camera_of(theta, evidence), cylinder_of(theta), evidence, evidence.declared
    R = rotation(theta[_TURN])
    points = card_points_mm(e.sighting.corner_ids, theta[_ALONG], theta[_ACROSS])
    corners = (camera.project(points @ R.T + theta[_SHIFT]) - e.sighting.corners_px).ravel() / CORNER_SD_PX
    sides = []
    # With the axis pointing away from the seal, the card's smaller x is the cylinder's positive side.
    for side, seen, offset in ((1.0, e.left_px, theta[_OFF][0]), (-1.0, e.right_px, theta[_OFF][1])):
        rays = camera.rays(seen)
        depth = max(cylinder.camera_distance_mm(), 1.0)
        outside = side * cylinder.axis_distance_mm(rays) - cylinder.radius_mm
        sides.append((outside * camera.focal_px / depth - offset) / e.side_point_sd_px)
    rims, priors = [], []
    for i, rim in enumerate(e.rims):
        s0, offset, height, tilt_near, tilt_side = theta[FIXED + PER_RIM * i : FIXED + PER_RIM * (i + 1)]
        rho = cylinder.radius_mm + max(rim.radius_over_mm + height, -0.4 * cylinder.radius_mm)
        s, phi = cylinder.unroll(camera.rays(rim.points_px), rho)
        scale = camera.focal_px / max(cylinder.camera_distance_mm() - rho, 1.0)
        band = s0 + cylinder.radius_mm * (tilt_near * np.cos(phi) + tilt_side * np.sin(phi))
        # A point beyond the silhouette has no place on the cylinder and says nothing of s.
        rims.append(np.nan_to_num(((s - band) * scale - offset) / RIM_POINT_SD_PX))
        priors += [offset / rim.sd_px, height / max(rim.radius_over_sd_mm, 1e-3)]
        tilt_sd = BAND_TILT_SD if rim.tilts else 0.003
        priors += [tilt_near / tilt_sd, tilt_side / tilt_sd]
    priors += [theta[_LOGF] / e.focal_rel_sd, theta[_K1] / e.k1_sd]
    priors += [
        (theta[_ALONG] - d.print_along) / d.print_sd,
        # A print that is measured along only is taken as the same across, to within half a percent.
        (theta[_ACROSS] - theta[_ALONG] - (d.print_across - d.print_along)) / max(0.001, d.print_sd / 4),
        (theta[_R] - d.diameter_mm / 2) / (d.diameter_sd_mm / 2),
        theta[_DZ] / CARD_TILT_SD,
        *(theta[_OFF] / e.side_sd_px),
        *(theta[_CENTRE] / e.centre_sd_px),
    ]
    if len(e.axis_px):
        # Set by hand on the middle of the shaft, to within a sixth of its width or so.
        priors += list(cylinder.axis_distance_mm(camera.rays(e.axis_px)) / (0.3 * cylinder.radius_mm))
    priors.append(theta[_AZ] / (CARD_DEPTH_SD_MM if e.use_card_depth else 1e3))
    return corners, np.concatenate(sides), rims, np.array(priors)


def solve(theta: np.ndarray, evidence: Evidence) -> Solution:
    """Solve for everything at once.

    Parameters
    ----------
    theta : ndarray
        From `start_theta`, or an earlier solution's `theta` with the same number of rims.
    evidence : Evidence

    Returns
    -------
    Solution
        Covariance by linear propagation (JCGM 100, 5.2).
    """
    from scipy.optimize import least_squares

    def flat(p: np.ndarray) -> np.ndarray:
        corners, sides, rims, priors = _residuals(p, evidence)
        return np.concatenate([corners, _robust(sides), *[_robust(r) for r in rims], priors])

    theta = theta.copy()
    for i, rim in enumerate(evidence.rims):
        base = FIXED + PER_RIM * i
        if theta[base] == 0.0:
            s, _ = cylinder_of(theta).unroll(camera_of(theta, evidence).rays(rim.points_px))
            theta[base] = np.nanmedian(s) if np.any(np.isfinite(s)) else 0.0
    scale = np.full(len(theta), 1.0)
    scale[_TURN], scale[_LOGF], scale[_K1], scale[_DX], scale[_DZ] = 0.01, 0.01, 0.01, 0.01, 0.01
    scale[_ALONG] = scale[_ACROSS] = 0.001
    scale[_R] = 0.02
    scale[_CENTRE] = 5.0
    found = least_squares(flat, theta, x_scale=scale, method="trf", max_nfev=60, xtol=1e-10, ftol=1e-9)
    theta = found.x
    information = found.jac.T @ found.jac
    # Parameters that nothing speaks of (a shaft without edges, a rim without points) stay as they were, with a
    # standard uncertainty of 1e4 of their unit rather than a division by zero.
    covariance = np.linalg.inv(information + 1e-8 * np.eye(len(theta)))
    corners, sides, _, _ = _residuals(theta, evidence)
    index = [FIXED + PER_RIM * i for i in range(len(evidence.rims))]
    R = rotation(theta[_TURN])
    corner_rms = float(np.sqrt(2 * np.mean(corners**2)) * CORNER_SD_PX)
    side_rms = float(np.sqrt(np.mean(sides**2)) * evidence.side_point_sd_px) if len(sides) else 0.0
    return Solution(
        camera=camera_of(theta, evidence),
        pose=CardPose(R, theta[_SHIFT].copy(), corner_rms),
        cylinder=cylinder_of(theta),
        rim_s_mm={rim.name: float(theta[k]) for rim, k in zip(evidence.rims, index, strict=True)},
        rim_covariance_mm2=covariance[np.ix_(index, index)],
        depth_mm=float(theta[_AZ]),
        depth_sd_mm=float(np.sqrt(covariance[_AZ, _AZ])),
        corner_rms_px=corner_rms,
        silhouette_rms_px=side_rms,
        theta=theta,
        covariance=covariance,
    )


def _robust(z: np.ndarray) -> np.ndarray:
    """Residuals whose squares grow like Huber's loss beyond 2 sd: a smudge on an edge must not steer it."""
    a = np.abs(z)
    return np.where(a <= 2.0, z, np.sign(z) * np.sqrt(np.maximum(4.0 * a - 4.0, 0.0)))

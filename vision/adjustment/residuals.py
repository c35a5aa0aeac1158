"""Residuals of the joint adjustment and their exact first derivatives (docs/measurement-model.md).

Numeric differences would take one evaluation a parameter (21 and 5 a rim) at each iteration. The chain rule takes
one: parameters move camera, axis point and axis direction; these move lines of sight and their intersections
(`Camera.ray_rates`, `Cylinder.unroll_rates`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from calibration.pose import card_points_mm
from vision.adjustment.card_bend import bent, bent_rates
from vision.adjustment.observations import (
    AXIS_POINT_SD_U,
    S_ORIGIN_ON_CARD_MM,
    Observations,
)
from vision.adjustment.parameters import (
    ACROSS,
    ALONG,
    ASPECT,
    AX,
    AZ,
    BEND,
    CENTRE,
    DX,
    DZ,
    FIXED,
    K1,
    LOGF,
    OFF,
    PER_RIM,
    R_MM,
    SHIFT,
    TURN,
    camera_of,
    cylinder_of,
    priors,
)
from vision.geometry.cylinder import BY_AXIS, BY_POINT, BY_RADIUS, BY_RAY, Cylinder

# The lens parameters, in the order of `Camera.ray_rates`.
_LENS = [LOGF, K1, CENTRE.start, CENTRE.start + 1, ASPECT]
# Least distance for a scale, mm: keeps a diverging iteration finite.
_MIN_DISTANCE_MM = 1.0
# Greatest depth of an edge below the shaft's surface, radii, for the same reason.
_MAX_DEPTH_U = 0.4
# Residuals beyond this many standard uncertainties weigh by Huber's loss: a smudge on an edge must not steer it.
HUBER_SD = 2.0


@dataclass(frozen=True)
class Residuals:
    """Normalised residuals at one parameter vector.

    Attributes
    ----------
    residuals : ndarray of shape (m,)
        Corners, silhouettes, points on the axis, rims, priors. Silhouettes and rims weigh by Huber's loss: beyond
        `HUBER_SD` the square of a residual grows linearly.
    jacobian : ndarray of shape (m, p)
        Their derivatives.
    corners, sides : ndarray
        Of corners and silhouettes, before Huber's loss.
    rims : tuple of ndarray
        The same of each rim, in the order of the observations'.
    """

    residuals: np.ndarray
    jacobian: np.ndarray
    corners: np.ndarray
    sides: np.ndarray
    rims: tuple[np.ndarray, ...]


@dataclass(frozen=True)
class _State:
    """Camera, card and shaft at one parameter vector.

    Derivatives: `turns`, shape (3, 3, 3), of the card's rotation R with respect to its rotation vector, ``turns @ p``
    being d(R p); `motion`, shape (6, p), of the axis' point and direction with respect to the parameters; `recede`,
    shape (6,), of the camera's distance from the axis with respect to these two; `lens`, shape (n, 2, 5), of the rays
    of all points with respect to the lens.
    """

    theta: np.ndarray
    camera: Camera
    cylinder: Cylinder
    R_cam_card: np.ndarray
    turns: np.ndarray
    recede: np.ndarray
    motion: np.ndarray
    rays: np.ndarray
    lens: np.ndarray

    def chain(self, rates: np.ndarray, rows: slice) -> np.ndarray:
        """Convert derivatives with respect to ray, axis point and direction to those with respect to parameters."""
        out: np.ndarray = rates[:, BY_POINT.start : BY_AXIS.stop] @ self.motion
        by_x, by_y, _ = rates[:, BY_RAY].T
        lens = self.lens[rows]
        out[:, _LENS] += by_x[:, None] * lens[:, 0] + by_y[:, None] * lens[:, 1]
        return out

    def none(self) -> tuple[np.ndarray, np.ndarray]:
        """Residuals of points of which there are none, and their derivatives."""
        return np.zeros(0), np.zeros((0, len(self.theta)))


class ResidualModel:
    """Residuals of one photo as a function of the parameters.

    Parameters
    ----------
    observations : Observations
    """

    def __init__(self, observations: Observations) -> None:
        e = self._observations = observations
        self._card_mm = card_points_mm(e.sighting.corner_ids, 1.0, 1.0)
        seen = [e.left_px, e.right_px, e.axis_px, *(rim.points_px for rim in e.rims)]
        self._points_px = np.concatenate(seen)
        n_left, n_right, n_axis = len(e.left_px), len(e.right_px), len(e.axis_px)
        self._sides = slice(0, n_left + n_right)
        self._axis = slice(n_left + n_right, n_left + n_right + n_axis)
        self._rims = slice(n_left + n_right + n_axis, None)
        # With the axis pointing away from the seal, the card's smaller x is the cylinder's positive side.
        self._side = np.repeat([1.0, -1.0], [n_left, n_right])
        self._side_sd_px = np.repeat(e.side_point_sd_px, [n_left, n_right])
        self._rim = np.repeat(np.arange(len(e.rims)), [len(rim.points_px) for rim in e.rims])
        self._height_mm = np.array([rim.height_mm for rim in e.rims])[self._rim]
        self._rim_sd_px = np.array([rim.point_sd_px for rim in e.rims])[self._rim]
        ends = np.cumsum([0, *(len(rim.points_px) for rim in e.rims)]).tolist()
        self._of_rim = [slice(*ends[i : i + 2]) for i in range(len(e.rims))]
        self._means = [
            (points, rim.mean_weight - 1)
            for points, rim in zip(self._of_rim, e.rims, strict=True)
            if rim.mean_weight > 1
        ]
        self._prior, self._prior_mean = priors(e)

    def evaluate(self, theta: np.ndarray) -> Residuals:
        """Evaluate residuals and derivatives.

        Parameters
        ----------
        theta : ndarray of shape (p,)

        Returns
        -------
        Residuals
        """
        state = self._state(theta)
        corners, by_corners = self._corner_residuals(state)
        sides, by_sides = self._side_residuals(state) if len(self._side) else state.none()
        axis, by_axis = self._axis_residuals(state) if self._axis.stop > self._axis.start else state.none()
        rims, by_rims = self._rim_residuals(state) if len(self._rim) else state.none()
        parts = [corners, _robust(sides), axis, _robust(rims), self._prior @ theta - self._prior_mean]
        jacobians = [
            by_corners,
            by_sides * _robust_rate(sides)[:, None],
            by_axis,
            by_rims * _robust_rate(rims)[:, None],
            self._prior,
        ]
        of_each = tuple(rims[points] for points in self._of_rim)
        return Residuals(np.concatenate(parts), np.concatenate(jacobians), corners, sides, of_each)

    def _state(self, theta: np.ndarray) -> _State:
        camera, cylinder = camera_of(theta, self._observations), cylinder_of(theta)
        R, turns = _rotation_and_rates(theta[TURN])
        slope = np.array([theta[DX], 1.0, theta[DZ]])
        length = np.linalg.norm(slope)
        direction = slope / length
        motion = np.zeros((6, len(theta)))
        motion[:3, TURN] = turns @ np.array([theta[AX], S_ORIGIN_ON_CARD_MM, theta[AZ]])
        motion[:3, SHIFT] = np.eye(3)
        motion[:3, AX], motion[:3, AZ] = R[:, 0], R[:, 2]
        motion[3:, TURN] = turns @ direction
        motion[3:, [DX, DZ]] = (R @ (np.eye(3) - np.outer(direction, direction)) / length)[:, [0, 2]]
        towards, _ = cylinder.basis
        recede = -np.concatenate([towards, cylinder.camera_s_mm() * towards])
        rays = camera.rays(self._points_px)
        return _State(theta, camera, cylinder, R, turns, recede, motion, rays, camera.ray_rates(rays))

    def _corner_residuals(self, state: _State) -> tuple[np.ndarray, np.ndarray]:
        theta, camera, R = state.theta, state.camera, state.R_cam_card
        flat = self._card_mm * np.array([theta[ACROSS], theta[ALONG], 0.0])
        points = bent(flat, theta[BEND])
        by_bend, by_y = bent_rates(flat, theta[BEND])
        points_cam = points @ R.T + theta[SHIFT]
        sd_px = self._observations.corner_sd_px
        z = (camera.project(points_cam) - self._observations.sighting.corners_px).ravel() / sd_px
        by_point, by_lens = camera.project_rates(points_cam)
        moves = np.zeros((len(points), 3, len(theta)))
        moves[:, :, TURN] = np.einsum("ikj,nj->nik", state.turns, points)
        moves[:, :, SHIFT] = np.eye(3)
        moves[:, :, ACROSS] = self._card_mm[:, :1] * R[:, 0]
        moves[:, :, ALONG] = self._card_mm[:, 1:2] * (by_y @ R.T)
        moves[:, :, BEND] = by_bend @ R.T
        rates = by_point @ moves
        rates[:, :, _LENS] += by_lens
        return z, rates.reshape(len(z), -1) / sd_px

    def _side_residuals(self, state: _State) -> tuple[np.ndarray, np.ndarray]:
        cylinder, side, sd_px = state.cylinder, self._side, self._side_sd_px
        rays, distance = state.rays[self._sides], cylinder.camera_distance_mm()
        scale = state.camera.focal_px / max(distance, _MIN_DISTANCE_MM) / sd_px
        off_axis = cylinder.axis_distance_mm(rays)
        outside = (side * off_axis - cylinder.radius_mm) * scale
        which = np.where(side > 0, OFF.start, OFF.start + 1)
        z = outside - state.theta[which] / sd_px
        rates = cylinder.axis_distance_rates(rays, off_axis) * (side * scale)[:, None]
        if distance > _MIN_DISTANCE_MM:
            rates[:, BY_POINT.start : BY_AXIS.stop] -= np.outer(outside / distance, state.recede)
        by = state.chain(rates, self._sides)
        by[:, LOGF] += outside
        by[:, R_MM] -= scale
        by[np.arange(len(z)), which] -= 1 / sd_px
        return z, by

    def _axis_residuals(self, state: _State) -> tuple[np.ndarray, np.ndarray]:
        rays, radius = state.rays[self._axis], state.cylinder.radius_mm
        sd_mm = AXIS_POINT_SD_U * radius
        off_axis = state.cylinder.axis_distance_mm(rays)
        by = state.chain(state.cylinder.axis_distance_rates(rays, off_axis) / sd_mm, self._axis)
        by[:, R_MM] -= off_axis / sd_mm / radius
        return off_axis / sd_mm, by

    def _rim_residuals(self, state: _State) -> tuple[np.ndarray, np.ndarray]:
        cylinder, rays, radius = state.cylinder, state.rays[self._rims], state.cylinder.radius_mm
        s0, offset, added, tilt_near, tilt_side = state.theta[FIXED:].reshape(-1, PER_RIM)[self._rim].T
        height = self._height_mm + added
        free = height > -_MAX_DEPTH_U * radius
        rho = radius + np.where(free, height, -_MAX_DEPTH_U * radius)
        s, phi = cylinder.unroll(rays, rho)
        # A line of sight beyond the silhouette misses the cylinder: no residual.
        met = np.isfinite(s)
        s, phi = np.where(met, s, 0.0), np.where(met, phi, 0.0)
        room = cylinder.camera_distance_mm() - rho
        scale = state.camera.focal_px / np.maximum(room, _MIN_DISTANCE_MM) / self._rim_sd_px
        cos, sin = np.cos(phi), np.sin(phi)
        tilt = tilt_near * cos + tilt_side * sin
        away = (s - s0 - radius * tilt) * scale
        of_s, of_phi = cylinder.unroll_rates(rays, rho, s, phi)
        lean = radius * (tilt_side * cos - tilt_near * sin)
        rates = (of_s - lean[:, None] * of_phi) * scale[:, None]
        nearer = np.where(room > _MIN_DISTANCE_MM, away / np.maximum(room, _MIN_DISTANCE_MM), 0.0)
        rates[:, BY_POINT.start : BY_AXIS.stop] -= np.outer(nearer, state.recede)
        rates[:, BY_RADIUS] += nearer
        by = state.chain(rates, self._rims)
        by[:, LOGF] += away
        by[:, R_MM] += rates[:, BY_RADIUS] * np.where(free, 1.0, 1 - _MAX_DEPTH_U) - tilt * scale
        own = np.stack(
            [
                -scale,
                -1 / self._rim_sd_px,
                rates[:, BY_RADIUS] * free,
                -radius * cos * scale,
                -radius * sin * scale,
            ],
            axis=1,
        )
        columns = FIXED + PER_RIM * self._rim[:, None] + np.arange(PER_RIM)
        by[np.arange(len(s))[:, None], columns] = own
        z = np.where(met, away - offset / self._rim_sd_px, 0.0)
        by[~met] = 0.0
        # A weight above 1 of a rim's mean: every residual is shifted along with the mean.
        for points, more in self._means:
            share = more * met[points] / max(met[points].sum(), 1)
            z[points] += share * z[points].sum()
            by[points] += share[:, None] * by[points].sum(axis=0)
        return z, by


def _rotation_and_rates(vector: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rotation matrix R of a rotation vector, and ``turns`` (3, 3, 3), so that ``turns @ p`` is d(R p)."""
    import cv2

    R, by_vector = cv2.Rodrigues(vector)
    # OpenCV's rows are the vector's components, its columns the matrix row by row.
    return R, by_vector.reshape(3, 3, 3).transpose(1, 0, 2)


def _robust(z: np.ndarray) -> np.ndarray:
    """Apply Huber's loss: the squares of the residuals grow linearly beyond `HUBER_SD`."""
    a = np.abs(z)
    h = HUBER_SD
    return np.where(a <= h, z, np.sign(z) * np.sqrt(np.maximum(2 * h * a - h**2, 0.0)))


def _robust_rate(z: np.ndarray) -> np.ndarray:
    """Differentiate `_robust`."""
    a = np.abs(z)
    h = HUBER_SD
    return np.where(a <= h, 1.0, h / np.sqrt(np.maximum(2 * h * a - h**2, 1.0)))

"""The shaft as a cylinder in camera coordinates: silhouettes, surface points, unrolling of lines of sight."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from calibration.camera import Camera

# Columns of the derivatives, one row a ray: with respect to the ray's components, `point_cam`, `axis_cam` (which stays
# a unit vector) and the radius of the surface that is met.
BY_RAY, BY_POINT, BY_AXIS, BY_RADIUS = slice(0, 3), slice(3, 6), slice(6, 9), 9


@dataclass(frozen=True)
class Cylinder:
    """A circular cylinder in front of the camera.

    Attributes
    ----------
    point_cam : ndarray of shape (3,)
        Point of the axis where s = 0, mm.
    axis_cam : ndarray of shape (3,)
        Unit vector along the axis, from the seal to the far end.
    radius_mm : float
    """

    point_cam: np.ndarray
    axis_cam: np.ndarray
    radius_mm: float

    @cached_property
    def basis(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit vectors (towards the camera, sideways), both perpendicular to the axis.

        Sideways is ``axis x towards``: angle phi round the axis is measured from the first to the second.
        """
        towards = -self._off_axis[0] / self._off_axis[1]
        return towards, _skew(self.axis_cam) @ towards

    @cached_property
    def _off_axis(self) -> tuple[np.ndarray, float]:
        """Foot of the perpendicular from the camera to the axis, mm, shape (3,), and its distance."""
        off = self.point_cam - np.dot(self.point_cam, self.axis_cam) * self.axis_cam
        return off, float(np.linalg.norm(off))

    def camera_s_mm(self) -> float:
        """Position along the axis at which the camera stands."""
        return float(-np.dot(self.point_cam, self.axis_cam))

    def camera_distance_mm(self) -> float:
        """Distance of the camera's centre from the axis."""
        return self._off_axis[1]

    def slant(self, s_mm: float) -> float:
        """Tangent of the angle between the line of sight to a position on the axis and the plane perpendicular to it.

        Positive where the camera stands farther along the axis.
        """
        return (self.camera_s_mm() - s_mm) / max(self.camera_distance_mm(), 1.0)

    def surface(
        self, s_mm: np.ndarray, phi: np.ndarray, radius_mm: np.ndarray | float | None = None
    ) -> np.ndarray:
        """Points on a coaxial cylinder.

        Parameters
        ----------
        s_mm, phi : ndarray, broadcastable to (...)
            Position along the axis, mm, and angle round it from the side that faces the camera, rad.
        radius_mm : float or ndarray, optional
            Radius, mm; the shaft's own where not given.

        Returns
        -------
        ndarray of shape (..., 3)
            Camera coordinates, mm.
        """
        towards, sideways = self.basis
        rho = self.radius_mm if radius_mm is None else radius_mm
        s, angle, rho = np.broadcast_arrays(s_mm, phi, rho)
        return np.asarray(
            self.point_cam
            + s[..., None] * self.axis_cam
            + rho[..., None] * (np.cos(angle)[..., None] * towards + np.sin(angle)[..., None] * sideways)
        )

    def silhouette_phi(self, radius_mm: float | None = None) -> float:
        """Angle from the near side at which lines of sight touch the cylinder, rad: arccos(radius / distance)."""
        rho = self.radius_mm if radius_mm is None else radius_mm
        return float(np.arccos(min(rho / self.camera_distance_mm(), 1.0)))

    def axis_distance_mm(self, rays: np.ndarray) -> np.ndarray:
        """Signed distance of lines of sight from the axis.

        Parameters
        ----------
        rays : ndarray of shape (..., 3)

        Returns
        -------
        ndarray of shape (...)
            Positive on the sideways-positive side, mm.
        """
        normal = rays @ _skew(self.axis_cam)
        return np.asarray(-(normal @ self.point_cam) / np.sqrt(np.sum(normal * normal, axis=-1)))

    def axis_distance_rates(self, rays: np.ndarray, distance_mm: np.ndarray) -> np.ndarray:
        """Differentiate `axis_distance_mm`.

        Parameters
        ----------
        rays : ndarray of shape (n, 3)
        distance_mm : ndarray of shape (n,)
            From `axis_distance_mm`.

        Returns
        -------
        ndarray of shape (n, 10)
            In the columns BY_RAY to BY_RADIUS; the last is zero.
        """
        normal = rays @ _skew(self.axis_cam)
        square = np.sum(normal * normal, axis=1)[:, None]
        length, along = np.sqrt(square), (rays @ self.axis_cam)[:, None]
        # The distance is -(normal . point) / |normal|, and |normal|^2 is |ray|^2 - along^2.
        shrink = distance_mm[:, None] / square
        rates = np.zeros((len(rays), 10))
        rates[:, BY_RAY] = _skew(self.point_cam) @ self.axis_cam / length - shrink * (
            rays - along * self.axis_cam
        )
        rates[:, BY_POINT] = -normal / length
        rates[:, BY_AXIS] = rays @ _skew(self.point_cam) / length + shrink * along * rays
        return rates

    def unroll(
        self, rays: np.ndarray, radius_mm: np.ndarray | float | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Intersect lines of sight with a coaxial cylinder, at the side that faces the camera.

        Parameters
        ----------
        rays : ndarray of shape (..., 3)
        radius_mm : float or ndarray of shape (...), optional
            The shaft's own where not given.

        Returns
        -------
        s_mm, phi : ndarray of shape (...)
            NaN where the line of sight misses.
        """
        rho = self.radius_mm if radius_mm is None else radius_mm
        towards, sideways = self.basis
        d = np.stack([rays @ towards, rays @ sideways], axis=-1)
        c = np.array([-np.dot(self.point_cam, towards), -np.dot(self.point_cam, sideways)])
        a = np.sum(d * d, axis=-1)
        b = d @ c
        disc = b * b - a * (np.dot(c, c) - rho * rho)
        with np.errstate(invalid="ignore"):
            depth = (-b - np.sqrt(np.where(disc >= 0, disc, np.nan))) / a
        at = depth[..., None] * rays - self.point_cam
        return at @ self.axis_cam, np.arctan2(at @ sideways, at @ towards)

    def unroll_rates(
        self, rays: np.ndarray, radius_mm: np.ndarray, s_mm: np.ndarray, phi: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Differentiate both results of `unroll`.

        The intersection stays on its line of sight and at its radius, which determines its depth.

        Parameters
        ----------
        rays : ndarray of shape (n, 3)
        radius_mm, s_mm, phi : ndarray of shape (n,)
            Argument and results of `unroll`; no NaN.

        Returns
        -------
        of_s, of_phi : ndarray of shape (n, 10)
            In the columns BY_RAY to BY_RADIUS.
        """
        towards, sideways = self.basis
        cos, sin, s, rho = np.cos(phi)[:, None], np.sin(phi)[:, None], s_mm[:, None], radius_mm[:, None]
        outward, around = cos * towards + sin * sideways, cos * sideways - sin * towards
        met = self.point_cam + s * self.axis_cam + rho * outward
        depth = met[:, 2:] / rays[:, 2:]
        facing = np.sum(outward * rays, axis=1)[:, None]
        lengthwise = (rays @ self.axis_cam)[:, None] / facing
        roundwise = np.sum(around * rays, axis=1)[:, None] / facing
        slide = self.axis_cam - lengthwise * outward
        turn = (around - roundwise * outward) / rho
        of_s, of_phi = np.empty((len(rays), 10)), np.empty((len(rays), 10))
        of_s[:, BY_RAY] = depth * slide
        of_s[:, BY_POINT] = -slide
        of_s[:, BY_AXIS] = (rho + s * lengthwise) * outward
        of_s[:, BY_RADIUS] = lengthwise[:, 0]
        # Phi counts from the side that faces the camera, which turns as the axis moves sideways.
        zero = sideways / self.camera_distance_mm()
        of_phi[:, BY_RAY] = depth * turn
        of_phi[:, BY_POINT] = zero - turn
        of_phi[:, BY_AXIS] = self.camera_s_mm() * zero - s * turn
        of_phi[:, BY_RADIUS] = (roundwise / rho)[:, 0]
        return of_s, of_phi

    def px_per_mm(self, camera: Camera, s_mm: float) -> float:
        """Image scale along the axis on the side that faces the camera."""
        ends = camera.project(self.surface(np.array([s_mm - 0.5, s_mm + 0.5]), np.zeros(2)))
        return float(np.linalg.norm(ends[1] - ends[0]))


def _skew(v: np.ndarray) -> np.ndarray:
    """Matrix of the cross product: ``_skew(v) @ w`` is v x w, ``w @ _skew(v)`` is w x v."""
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])

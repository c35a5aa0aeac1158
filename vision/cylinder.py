"""The shaft as a cylinder in space: its silhouettes, the rims round it, and unrolling image points onto it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera


@dataclass(frozen=True)
class Cylinder:
    """A circular cylinder before the camera.

    Attributes
    ----------
    point_cam : ndarray of shape (3,)
        The point of the axis where s = 0, mm.
    axis_cam : ndarray of shape (3,)
        Unit vector along the axis, from the seal to the far end.
    radius_mm : float
    """

    point_cam: np.ndarray
    axis_cam: np.ndarray
    radius_mm: float

    def basis(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit vectors (towards the camera, sideways), both square to the axis.

        Sideways is ``axis x towards``: angle phi round the axis is measured from the first to the second.
        """
        towards = -(self.point_cam - np.dot(self.point_cam, self.axis_cam) * self.axis_cam)
        towards = towards / np.linalg.norm(towards)
        return towards, np.cross(self.axis_cam, towards)

    def camera_s_mm(self) -> float:
        """Where along the axis the camera stands."""
        return float(-np.dot(self.point_cam, self.axis_cam))

    def camera_distance_mm(self) -> float:
        """Distance of the camera's centre from the axis."""
        return float(np.linalg.norm(self.point_cam - np.dot(self.point_cam, self.axis_cam) * self.axis_cam))

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
        towards, sideways = self.basis()
        rho = self.radius_mm if radius_mm is None else radius_mm
        s, angle, rho = np.broadcast_arrays(s_mm, phi, rho)
        return (
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
        normal = np.cross(rays, self.axis_cam)
        return -np.sum(normal * self.point_cam, axis=-1) / np.linalg.norm(normal, axis=-1)

    def unroll(self, rays: np.ndarray, radius_mm: float | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Where lines of sight first meet a coaxial cylinder.

        Parameters
        ----------
        rays : ndarray of shape (..., 3)
        radius_mm : float, optional
            The shaft's own where not given.

        Returns
        -------
        s_mm, phi : ndarray of shape (...)
            NaN where the line of sight misses.
        """
        rho = self.radius_mm if radius_mm is None else radius_mm
        towards, sideways = self.basis()
        d = np.stack([rays @ towards, rays @ sideways], axis=-1)
        c = np.array([-np.dot(self.point_cam, towards), -np.dot(self.point_cam, sideways)])
        a = np.sum(d * d, axis=-1)
        b = d @ c
        disc = b * b - a * (np.dot(c, c) - rho * rho)
        with np.errstate(invalid="ignore"):
            depth = (-b - np.sqrt(np.where(disc >= 0, disc, np.nan))) / a
        at = depth[..., None] * rays - self.point_cam
        return at @ self.axis_cam, np.arctan2(at @ sideways, at @ towards)

    def px_per_mm(self, camera: Camera, s_mm: float) -> float:
        """Image scale along the axis on the side that faces the camera."""
        ends = camera.project(self.surface(np.array([s_mm - 0.5, s_mm + 0.5]), np.zeros(2)))
        return float(np.linalg.norm(ends[1] - ends[0]))

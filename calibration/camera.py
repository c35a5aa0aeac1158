"""The camera model: a pinhole with one radial distortion term, pixels that may not be square, and priors of both.

Frames: image px (x right, y down, pixel centres at whole numbers, the photo as stored); camera mm (x right,
y down, z forward).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

# Radial distortion that phones leave after their own correction: within about +-0.04, mostly far less.
# Source: vision notes of the project; common practice, no standard.
K1_SD = 0.015
# Logarithm of height over width of a pixel in a photo that was not reshaped: sensors' are square; a photo made smaller
# has its sides rounded to whole pixels, half of one in a thousand.
SQUARE_ASPECT_SD = 0.0005
# The same where the sides were scaled unequally, by 0.8 to 1.25 [judgement, no source].
ASPECT_SD = 0.15

# Halves of the pixels' aspect with which the focal lengths along x and y differ from their mean.
_HALF_EACH_WAY = np.array([-0.5, 0.5])


@dataclass(frozen=True)
class Camera:
    """A pinhole camera with one radial distortion coefficient.

    Attributes
    ----------
    focal_px : float
        Focal length, px.
    cx_px, cy_px : float
        Principal point, px; assumed at the centre of the frame.
    k1 : float
        x_distorted = x (1 + k1 r^2) in normalised coordinates (Brown 1966, first radial term).
    log_aspect : float
        Logarithm of the focal length along y over that along x: 0 for square pixels, positive where the photo's width
        was shrunk more than its height. `focal_px` is their geometric mean.
    """

    focal_px: float
    cx_px: float
    cy_px: float
    k1: float = 0.0
    log_aspect: float = 0.0

    @classmethod
    def centred(cls, focal_px: float, width_px: int, height_px: int) -> Camera:
        """Make a camera whose principal point is the centre of the frame."""
        return cls(focal_px, (width_px - 1) / 2, (height_px - 1) / 2)

    def with_lens(self, focal_px: float, k1: float) -> Camera:
        """Return the camera with another focal length and distortion."""
        return replace(self, focal_px=focal_px, k1=k1)

    def with_aspect(self, log_aspect: float) -> Camera:
        """Return the camera with another shape of its pixels."""
        return replace(self, log_aspect=log_aspect)

    @property
    def focal_xy_px(self) -> np.ndarray:
        """Focal length along x and y, px, shape (2,)."""
        return np.asarray(self.focal_px * np.exp(self.log_aspect * _HALF_EACH_WAY))

    def moved_centre(self, dx_px: float, dy_px: float) -> Camera:
        """Return the camera with its principal point moved, as by an off-centre crop."""
        return replace(self, cx_px=self.cx_px + dx_px, cy_px=self.cy_px + dy_px)

    def project(self, points_cam: np.ndarray) -> np.ndarray:
        """Project points.

        Parameters
        ----------
        points_cam : ndarray of shape (..., 3)
            Camera coordinates, mm, z > 0.

        Returns
        -------
        ndarray of shape (..., 2)
            Image positions, px.
        """
        xy = points_cam[..., :2] / points_cam[..., 2:]
        xy = xy * (1 + self.k1 * np.sum(xy * xy, axis=-1, keepdims=True))
        return np.asarray(xy * self.focal_xy_px + np.array([self.cx_px, self.cy_px]))

    def rays(self, points_px: np.ndarray) -> np.ndarray:
        """Compute viewing directions through image points, third component 1.

        Parameters
        ----------
        points_px : ndarray of shape (..., 2)

        Returns
        -------
        ndarray of shape (..., 3)
            Not normalised; the distortion (a few percent at most) is removed by fixed-point iteration.
        """
        distorted = (points_px - np.array([self.cx_px, self.cy_px])) / self.focal_xy_px
        k1_r2 = self.k1 * np.sum(distorted * distorted, axis=-1)
        stretch = 1 + k1_r2
        for _ in range(8):
            stretch = 1 + k1_r2 / (stretch * stretch)
        out = np.ones((*distorted.shape[:-1], 3))
        np.divide(distorted, stretch[..., None], out=out[..., :2])
        return out

    def project_rates(self, points_cam: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Differentiate projected points with respect to the points and the lens.

        Parameters
        ----------
        points_cam : ndarray of shape (n, 3)

        Returns
        -------
        by_point : ndarray of shape (n, 2, 3)
            px/mm.
        by_lens : ndarray of shape (n, 2, 5)
            With respect to the logarithm of the focal length, k1, the principal point's x and y, px, and the
            logarithm of the pixels' aspect.
        """
        focal = self.focal_xy_px
        xy = points_cam[:, :2] / points_cam[:, 2:]
        r2 = np.einsum("ni,ni->n", xy, xy)[:, None]
        outer = xy[:, :, None] * xy[:, None, :]
        by_xy = (1 + self.k1 * r2)[:, :, None] * np.eye(2) + 2 * self.k1 * outer
        by_point = np.empty((len(xy), 2, 3))
        by_point[:, :, :2] = by_xy * focal[:, None] / points_cam[:, 2:, None]
        by_point[:, :, 2] = -np.einsum("nij,nj->ni", by_point[:, :, :2], xy)
        by_lens = np.zeros((len(xy), 2, 5))
        by_lens[:, :, 0] = xy * (1 + self.k1 * r2) * focal
        by_lens[:, :, 1] = xy * r2 * focal
        by_lens[:, :, 2:4] = np.eye(2)
        by_lens[:, :, 4] = by_lens[:, :, 0] * _HALF_EACH_WAY
        return by_point, by_lens

    def ray_rates(self, rays: np.ndarray) -> np.ndarray:
        """Differentiate the first two components of viewing directions with respect to the lens, image points fixed.

        Parameters
        ----------
        rays : ndarray of shape (n, 3)
            From `rays`.

        Returns
        -------
        ndarray of shape (n, 2, 5)
            With respect to the logarithm of the focal length, k1, the principal point's x and y, px, and the
            logarithm of the pixels' aspect.
        """
        xy = rays[:, :2]
        r2 = np.einsum("ni,ni->n", xy, xy)[:, None]
        # The ray compensates what the same change of lens does to the distorted position. Distortion scales
        # by 1 + k1 r^2 across the radius and by 1 + 3 k1 r^2 along it.
        across, along = 1 + self.k1 * r2, 1 + 3 * self.k1 * r2
        rates = np.empty((len(xy), 2, 5))
        rates[:, :, 0] = -xy * (across / along)
        rates[:, :, 1] = -xy * (r2 / along)
        outer = xy[:, :, None] * xy[:, None, :]
        # How the ray follows the distorted position.
        by_distorted = (np.eye(2) - (2 * self.k1 / along)[:, :, None] * outer) / across[:, :, None]
        rates[:, :, 2:4] = -by_distorted / self.focal_xy_px
        rates[:, :, 4] = -np.einsum("nij,nj->ni", by_distorted, xy * across * _HALF_EACH_WAY)
        return rates

"""A pinhole camera with radial distortion, photographs of scenes and their truth.

Camera frame: x right, y down, z forward. Pixel (0, 0) is the centre of the top-left pixel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from .degrade import Phone, develop
from .random_scenes import Drawn
from .scene import Scene
from .shading import look
from .tracing import March, trace

TILE = 64  # pixels: neighbouring rays meet the same parts
EDGE_CONTRAST = 0.35  # step of log brightness between neighbours: pixels above are sampled again
EDGE_SAMPLES = 9


@dataclass(frozen=True)
class Camera:
    """Pinhole with one radial term: x' = x (1 + k1 r^2), image plane at 1."""

    width_px: int
    height_px: int
    f_px: float
    eye_mm: np.ndarray  # (3,) centre, shaft frame
    R_cam_shaft: np.ndarray  # (3, 3): p_cam = R (p_shaft - eye)
    k1: float = 0.0

    def project(self, points_mm: Any) -> np.ndarray:
        """Pixels (N, 2) of points (N, 3)."""
        p = (np.atleast_2d(points_mm) - self.eye_mm) @ self.R_cam_shaft.T
        xy = p[:, :2] / p[:, 2:]
        xy = xy * (1 + self.k1 * (xy**2).sum(1, keepdims=True))
        found: np.ndarray = xy * self.f_px + self.centre_px
        return found

    @property
    def centre_px(self) -> np.ndarray:
        """Principal point (2,)."""
        return np.array([0.5 * (self.width_px - 1), 0.5 * (self.height_px - 1)])

    def directions(self, pixels: np.ndarray) -> np.ndarray:
        """Return unit rays (N, 3), shaft frame, through pixels (N, 2)."""
        xd = (pixels - self.centre_px) / self.f_px
        xy = xd.copy()
        for _ in range(8):  # fixed point; converges fast for |k1 r^2| << 1
            xy = xd / (1 + self.k1 * (xy**2).sum(1, keepdims=True))
        d = np.concatenate([xy, np.ones((len(xy), 1))], 1)
        d /= np.linalg.norm(d, axis=1, keepdims=True)
        found: np.ndarray = d @ self.R_cam_shaft
        return found


def aimed(drawn: Drawn, width_px: int, height_px: int, f35_mm: float = 26.0, k1: float = 0.0) -> Camera:
    """Place a camera at the scene's viewpoint. `f35_mm` relates to the diagonal of a 36 x 24 mm frame, 43.27 mm."""
    forward = np.asarray(drawn.target_mm - drawn.eye_mm, float)
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 0.0, 1.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(drawn.roll_rad), np.sin(drawn.roll_rad)
    rot = np.stack([c * right + s * down, -s * right + c * down, forward])
    f_px = f35_mm / 43.2666 * float(np.hypot(width_px, height_px))
    return Camera(width_px, height_px, f_px, np.asarray(drawn.eye_mm, float), rot, k1)


def framed(drawn: Drawn, width_px: int, height_px: int, f35_mm: float = 26.0, k1: float = 0.0) -> Camera:
    """As `aimed`, moved back along the line of sight until seal, far end and card are in the picture."""
    scene = drawn.scene
    points = np.concatenate(
        [card_corners_mm(scene)[[0, 1, -2, -1]], [[0, 0, -15.0], [0, 0, scene.exposed + 10]]]
    )
    for _ in range(20):
        camera = aimed(drawn, width_px, height_px, f35_mm, k1)
        px = camera.project(points)
        margin = 0.04 * min(width_px, height_px)
        if (px > margin).all() and (px < [width_px - margin, height_px - margin]).all():
            break
        drawn = replace(drawn, eye_mm=drawn.target_mm + 1.08 * (drawn.eye_mm - drawn.target_mm))
    return camera


def card_corners_mm(scene: Scene) -> np.ndarray:
    """Return the board's 26 inner corners (26, 3), shaft frame; corner 2 j + i at (12 (i + 1), 12 (j + 1)) mm."""
    x = 12.0 * np.tile([1, 2], 13) * scene.card_scale[0]
    y = 12.0 * np.repeat(np.arange(1, 14), 2) * scene.card_scale[1]
    cx, cy = x - 18.0 * scene.card_scale[0], y - 84.0 * scene.card_scale[1]
    z = scene.card_curl[0] * cx**2 + scene.card_curl[1] * cy**2
    found: np.ndarray = np.stack([x, y, z], 1) @ np.asarray(scene.card_rot, float).T + scene.card_origin
    return found


@dataclass(frozen=True)
class Truth:
    """What is true of a photograph. Lengths along the axis in mm, pixels in the picture as rendered."""

    exposed_mm: float
    marker_mm: float | None  # seal lip to the marker's seal-side edge; None without a marker
    remaining_mm: float | None  # that edge to the far end
    diameter_mm: float
    seal_visible: float  # shares of the camera-facing rim that nothing hides
    marker_visible: float
    far_visible: float
    seal_rim_px: np.ndarray  # (32, 2) camera-facing half of the shaft's circle at s = 0
    marker_rim_px: np.ndarray  # at the marker's seal-side edge
    far_rim_px: np.ndarray
    card_corners_px: np.ndarray  # (26, 2)
    camera: Camera
    layout: str
    card_number: int
    print_scale: tuple[float, float]


def facing_rim_mm(scene: Scene, s_mm: float, eye_mm: np.ndarray, radius_mm: float, n: int = 32) -> np.ndarray:
    """Points (n, 3) of the camera-facing part of the circle at s."""
    reach = np.arccos(min(1.0, radius_mm / float(np.hypot(eye_mm[0], eye_mm[1]))))
    phi = np.arctan2(eye_mm[1], eye_mm[0]) + np.linspace(-0.95, 0.95, n) * reach
    return np.stack([radius_mm * np.cos(phi), radius_mm * np.sin(phi), np.full(n, s_mm)], 1)


def _visible(scene: Scene, points_mm: np.ndarray, camera: Camera) -> float:
    d = points_mm - camera.eye_mm
    far = np.linalg.norm(d, axis=1)
    o = np.repeat(camera.eye_mm[:, None], len(d), 1).astype(np.float32)
    t, hit, _ = trace(scene, o, (d / far[:, None]).T.astype(np.float32), far + 50, np, March(128))
    inside = (camera.project(points_mm) > 0) & (
        camera.project(points_mm) < [camera.width_px - 1, camera.height_px - 1]
    )
    return float(np.mean((~hit | (t > far - 0.6)) & inside.all(1)))


def truth_of(drawn: Drawn, camera: Camera) -> Truth:
    """Compute the exact lengths, and the rims and card corners in the picture."""
    scene = drawn.scene
    exposed, m = float(scene.exposed), float(scene.marker[0])
    radius = float(scene.radius)
    eye = camera.eye_mm
    seal = facing_rim_mm(scene, 0.0, eye, radius)
    far = facing_rim_mm(scene, exposed, eye, radius)
    mark = facing_rim_mm(scene, m, eye, radius)
    outer = facing_rim_mm(scene, m + 0.5 * float(scene.marker[1]), eye, radius + float(scene.marker[2]))
    near = np.array([0.0, 0.0, 0.3])
    return Truth(
        exposed_mm=exposed,
        marker_mm=m if drawn.has_marker else None,
        remaining_mm=exposed - m if drawn.has_marker else None,
        diameter_mm=2 * radius,
        seal_visible=_visible(scene, seal + near, camera),
        marker_visible=_visible(scene, outer, camera) if drawn.has_marker else 0.0,
        far_visible=_visible(scene, far - near, camera),
        seal_rim_px=camera.project(seal),
        marker_rim_px=camera.project(mark),
        far_rim_px=camera.project(far),
        card_corners_px=camera.project(card_corners_mm(scene)),
        camera=camera,
        layout=drawn.layout,
        card_number=drawn.card_number,
        print_scale=(float(scene.card_scale[0]), float(scene.card_scale[1])),
    )


def render_linear(scene: Scene, camera: Camera, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Linear image (H, W, 3) and part image (H, W); pixels on edges are averaged over jittered samples."""
    h, w = camera.height_px, camera.width_px
    yy, xx = np.mgrid[0:h, 0:w]
    order = np.lexsort((xx.ravel(), yy.ravel(), xx.ravel() // TILE, yy.ravel() // TILE))
    pixels = np.stack([xx.ravel()[order], yy.ravel()[order]], 1).astype(float)
    rgb, part, _ = look(scene, camera.eye_mm, camera.directions(pixels))
    image = np.empty((h, w, 3), np.float32)
    parts = np.empty((h, w), np.int32)
    image.reshape(-1, 3)[order], parts.reshape(-1)[order] = rgb, part  # views of the same memory
    again = _edges(image, parts)
    ys, xs = np.nonzero(again)
    side = round(EDGE_SAMPLES**0.5)
    cell = (np.stack(np.meshgrid(np.arange(side), np.arange(side)), -1).reshape(-1, 2) + 0.5) / side - 0.5
    jitter = cell[None] + rng.uniform(-0.5, 0.5, (len(ys), side * side, 2)) / side
    px = (np.stack([xs, ys], 1)[:, None, :] + jitter).reshape(-1, 2)
    fine, _, _ = look(scene, camera.eye_mm, camera.directions(px))
    fine = np.minimum(fine, 20.0).reshape(len(ys), side * side, 3)
    image[ys, xs] = fine.mean(1)
    return image, parts


def _edges(image: np.ndarray, parts: np.ndarray) -> np.ndarray:
    """Pixels (H, W) that differ from a neighbour in part or brightness."""
    grey = image @ np.array([0.3, 0.5, 0.2], np.float32)
    floor = 0.1 * float(np.median(grey)) + 1e-6
    log = np.log(grey + floor)
    out = np.zeros(parts.shape, bool)
    for axis in (0, 1):
        a = [slice(None)] * 2
        b = [slice(None)] * 2
        a[axis], b[axis] = slice(1, None), slice(None, -1)
        differ = (parts[tuple(a)] != parts[tuple(b)]) | (
            np.abs(log[tuple(a)] - log[tuple(b)]) > EDGE_CONTRAST
        )
        out[tuple(a)] |= differ
        out[tuple(b)] |= differ
    return out


def photograph(
    drawn: Drawn, camera: Camera, rng: np.random.Generator, phone: Phone | None = None
) -> np.ndarray:
    """Render and develop: uint8 sRGB image (H, W, 3). `phone` None: a good phone in good light."""
    linear, _ = render_linear(drawn.scene, camera, rng)
    phone = phone or Phone(exposure_ev=0.0, blur=0.4, noise=0.004, contrast=0.3, vignette=0.1)
    return develop(linear, phone, rng)


def save_jpeg(path: Path, image: np.ndarray, f35_mm: int, quality: int = 92, orientation: int = 1) -> None:
    """Write `image` (upright, sRGB) with EXIF as phones write it.

    `orientation` 1, 3, 6 or 8: the stored pixels are turned so that a viewer that heeds the tag shows
    `image` again (EXIF 2.32, tag 0x0112).
    """
    from PIL import Image

    turns = {1: 0, 3: 2, 6: 1, 8: 3}[orientation]
    stored = np.rot90(image, turns)  # 6: the viewer turns clockwise, so store turned anticlockwise
    picture = Image.fromarray(np.ascontiguousarray(stored))
    exif = Image.Exif()
    exif[0x0112] = orientation
    sub = exif.get_ifd(0x8769)
    sub[0xA405] = int(f35_mm)
    sub[0xA002], sub[0xA003] = picture.size
    picture.save(path, quality=quality, exif=exif)

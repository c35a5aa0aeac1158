"""The views that the small networks are trained on, rendered without a photograph in between.

Finder: the card's plane, 1.6 mm a pixel, 128 columns by 216 rows; x from -84.4 to 120.4 mm and y from -88.8
to 256.8 mm of the card frame.
Reader: the plane through an estimated shaft axis that faces the camera: 64 columns u = x/R from -2.4 to 2.4
(x right when s runs down the picture), 1024 rows of 0.25 mm, seal side first.
Edges: the same plane near either silhouette: 256 rows of 1 mm, 64 columns outwards from |u| = 0.7 to 1.3.
Rims: four patches of the shaft's surface, round the seal, the marker's two edges and the far end: 96 rows of 0.08 mm
along it (far end: 0.16 mm), what ends the shaft before the bare shaft, 48 columns from u = -0.9 to 0.9 across.
Fine edges: as edges, along a better axis, from |u| = 1 - h to 1 + h, h as `fine_reach` says.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .random_scenes import Drawn
from .scene import Material, Part, Scene

FINDER_SHAPE = (216, 128)
FINDER_MM_PER_PX = 1.6
FINDER_X0_MM = 18.0 - 102.4
FINDER_Y0_MM = -88.8
READER_SHAPE = (1024, 64)
READER_MM_PER_ROW = 0.25
READER_HALF_WIDTH = 2.4
EDGE_SHAPE = (256, 64)
EDGE_MM_PER_ROW = 1.0
EDGE_REACH_U = 0.3
# Columns of fine edge views: half a pixel of the photo each, but no wider than those of the coarse views and no
# narrower than the resolution that is needed.
FINE_COLUMN_PX, FINE_LEAST_REACH_MM = 0.5, 2.0
# Of seal, the marker's two edges and far end: +1 where the bare shaft follows along the axis, -1 where it comes before.
RIM_SIGNS = (1.0, -1.0, 1.0, -1.0)
RIM_SHAPE = (96, 48)
# A clamp's front edge, seen at a slant, and its picture in a polished tube stand up to 5 mm to either side of where the
# clamp meets the tube: both have to be in the patch.
RIM_MM_PER_ROW = (0.08, 0.08, 0.08, 0.16)
# Errors of the patches' centres as the first pass leaves them, sd, mm: in seven of ten, in three of ten; limit.
PLACES_SD_MM = ((0.25, 0.25, 0.25, 0.4), (1.0, 1.0, 1.0, 1.6), (2.5, 2.5, 2.5, 4.0))
RIM_U = 0.9
# Middle of the card's face, frame `card`.
CARD_MIDDLE_MM = (18.0, 84.0)
# From here on a view of 256 mm cannot show both ends with what is beyond them.
LONG_SHAFT_MM = 215.0


@dataclass(frozen=True)
class Axis:
    """An estimated shaft axis: point at s = 0 (3,), unit direction (3,), radius and middle row's s, mm."""

    origin_mm: np.ndarray
    direction: np.ndarray
    radius_mm: float
    middle_s_mm: float


def finder_points(scene: Scene, xp: Any = np) -> Any:
    """Pixel centres of the finder view in the shaft frame, (216, 128, 3) mm."""
    rows, cols = FINDER_SHAPE
    y = FINDER_Y0_MM + FINDER_MM_PER_PX * (xp.arange(rows) + 0.5)
    x = FINDER_X0_MM + FINDER_MM_PER_PX * (xp.arange(cols) + 0.5)
    # the printed card defines the frame: a card printed at 0.98 makes a millimetre of 0.98
    ex, ey = scene.card_rot[:, 0] * scene.card_scale[0], scene.card_rot[:, 1] * scene.card_scale[1]
    return scene.card_origin + x[None, :, None] * ex + y[:, None, None] * ey


def finder_steps(scene: Scene) -> tuple[Any, Any]:
    """Vectors (3,) from one pixel to the next along a row and along a column."""
    ex, ey = scene.card_rot[:, 0] * scene.card_scale[0], scene.card_rot[:, 1] * scene.card_scale[1]
    return FINDER_MM_PER_PX * ex, FINDER_MM_PER_PX * ey


def jittered_axis(drawn: Drawn, rng: np.random.Generator) -> Axis:
    """Disturb the true axis by the errors of a detection in a photo."""
    radius = float(drawn.scene.radius)
    exposed = float(drawn.scene.exposed)
    middle = _middle(exposed, rng)
    off = rng.normal(0, 0.02 * radius + 0.15, 2)
    tilt = rng.normal(0, 0.006, 2)
    along = rng.normal(0, 0.5)  # where s = 0 lies is known only roughly
    return _axis_with_errors(off, tilt, along, radius * (1 + rng.normal(0, 0.01)), middle)


def solved_axis(drawn: Drawn, rng: np.random.Generator, reach_u: float) -> Axis:
    """Disturb the true axis by the errors of a first fit to its silhouettes, in one of four cases by larger ones."""
    radius = float(drawn.scene.radius)
    middle = _middle(float(drawn.scene.exposed), rng)
    sd = (0.006 if rng.random() < 0.75 else 0.025) * radius
    most = 0.5 * reach_u * radius  # so that the silhouettes stay in the views
    off = np.clip(rng.normal(0, sd, 2), -most, most)
    tilt = rng.normal(0, 0.002, 2)
    return _axis_with_errors(
        off, tilt, 0.0, radius * (1 + float(np.clip(rng.normal(0, 0.005), -0.03, 0.03))), middle
    )


def _middle(exposed: float, rng: np.random.Generator) -> float:
    """Where a view's middle lies along the axis, mm: of a shaft longer than the view one end is in it at most."""
    if exposed > LONG_SHAFT_MM:
        return float(
            rng.uniform(0.0, 0.45) * exposed if rng.random() < 0.5 else rng.uniform(0.55, 1.0) * exposed
        )
    return 0.5 * exposed + float(rng.uniform(-20, 20))


def _axis_with_errors(
    off_mm: np.ndarray, tilt: np.ndarray, along_mm: float, radius_mm: float, middle_mm: float
) -> Axis:
    """Make an axis with an offset from the true one at its middle, tilted and moved along it."""
    direction = np.array([tilt[0], tilt[1], 1.0])
    direction /= np.linalg.norm(direction)
    origin = np.array([off_mm[0], off_mm[1], 0.0]) + np.array([0, 0, middle_mm]) - direction * middle_mm
    return Axis(origin + along_mm * direction, direction, radius_mm, middle_mm)


def fine_reach(px_mm: float, radius_mm: float) -> float:
    """How far fine edge views reach to either side of the silhouette, in radii, as `vision.geometry.views` has it."""
    half_mm = max(0.5 * EDGE_SHAPE[1] * FINE_COLUMN_PX * px_mm, FINE_LEAST_REACH_MM)
    return min(half_mm / radius_mm, EDGE_REACH_U)


def reader_frame(axis: Axis, eye_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Centre (3,) of the reader view and its steps (3,) along a row and along a column, in mm."""
    centre = axis.origin_mm + axis.middle_s_mm * axis.direction
    away = centre - eye_mm
    away = away - axis.direction * (away @ axis.direction)
    away /= np.linalg.norm(away)
    across = np.cross(axis.direction, away)
    step = 2 * READER_HALF_WIDTH / READER_SHAPE[1] * axis.radius_mm
    return centre, across * step, axis.direction * READER_MM_PER_ROW


def reader_points(centre: Any, step_u: Any, step_s: Any, xp: Any = np) -> Any:
    """Pixel centres of the reader view in the shaft frame, (1024, 64, 3) mm."""
    rows, cols = READER_SHAPE
    i = xp.arange(rows) - 0.5 * (rows - 1)
    j = xp.arange(cols) - 0.5 * (cols - 1)
    return centre + j[None, :, None] * step_u + i[:, None, None] * step_s


def edge_points(centre: Any, step_u: Any, step_s: Any, xp: Any = np, reach_u: Any = EDGE_REACH_U) -> Any:
    """Pixel centres of the two edge views, (2, 256, 64, 3) mm; the first on the side where u is negative."""
    rows, cols = EDGE_SHAPE
    i = (xp.arange(rows) - 0.5 * (rows - 1)) * (EDGE_MM_PER_ROW / READER_MM_PER_ROW)
    u = 1 + reach_u * (2 * (xp.arange(cols) + 0.5) / cols - 1)
    radius = step_u * (READER_SHAPE[1] / (2 * READER_HALF_WIDTH))
    sides = xp.stack([-u, u])
    return centre + sides[:, None, :, None] * radius + i[None, :, None, None] * step_s


def edge_steps(step_u: Any, step_s: Any, reach_u: Any = EDGE_REACH_U) -> tuple[Any, Any]:
    """Vectors (3,) from one pixel of an edge view to the next along a row (up to sign) and along a column."""
    columns_per_column = 2 * reach_u / EDGE_SHAPE[1] / (2 * READER_HALF_WIDTH / READER_SHAPE[1])
    return columns_per_column * step_u, (EDGE_MM_PER_ROW / READER_MM_PER_ROW) * step_s


def rim_places(drawn: Drawn, frame: tuple[np.ndarray, ...], rng: np.random.Generator) -> np.ndarray:
    """Draw the patches' centres along an estimated axis (`reader_frame`), mm from the frame's centre, (4,).

    Their errors are those of the first pass: usually a row or two of the view along the shaft, at times far more.
    """
    centre, _, step_s = frame
    axis = step_s / np.linalg.norm(step_s)
    edge, width = drawn.scene.marker[:2]
    true = np.array([0.0, edge, edge + width, drawn.scene.exposed], float)
    mostly, less_often, most = np.array(PLACES_SD_MM)
    off = rng.normal(0, np.where(rng.random(4) < 0.7, mostly, less_often))
    found: np.ndarray = (true - centre[2]) * axis[2] + np.clip(off, -most, most)
    return found


def rim_points(
    centre: Any, step_u: Any, step_s: Any, places: Any, eye_mm: Any, xp: Any = np
) -> tuple[Any, Any, Any]:
    """Pixel centres of the four patches in the shaft frame, (4, 96, 48, 3) mm; steps across and along, per pixel."""
    rows, cols = RIM_SHAPE
    length_u = xp.sqrt((step_u * step_u).sum())
    across, axis = step_u / length_u, step_s / xp.sqrt((step_s * step_s).sum())
    radius = length_u * (READER_SHAPE[1] / (2 * READER_HALF_WIDTH))
    towards = xp.cross(across, axis)
    towards = towards * xp.sign((towards * (eye_mm - centre)).sum())
    u = RIM_U * (2 * (xp.arange(cols) + 0.5) / cols - 1)
    up = xp.sqrt(1 - u * u)
    down_mm = xp.array(RIM_SIGNS) * xp.array(RIM_MM_PER_ROW)
    s = places[:, None] + down_mm[:, None] * (xp.arange(rows) - 0.5 * (rows - 1))[None, :]
    round_it = radius * (u[:, None] * across + up[:, None] * towards)
    points = centre + s[:, :, None, None] * axis + round_it[None, None]
    right = radius * (2 * RIM_U / cols) * (across - (u / up)[:, None] * towards)
    return points, right[None, None], (down_mm[:, None] * axis)[:, None, None]


def rim_labels(scene: Scene, eye_mm: Any, d: Any, cls: Any, xp: Any = np) -> Any:
    """Labels (4, N / 4) of rays of the four patches, (4, 96, 48) in order: 1 on the bare shaft's side of the rim, where
    the ray meets the shaft or would; 2 where something stands in front of it; 4 where bare shaft is seen."""
    _, t, _ = shaft_interval(scene, eye_mm, d, xp)
    hit = (eye_mm + t[:, None] * d).reshape(4, -1, 3)
    edge, width, tilt_x, tilt_y = scene.marker[0], scene.marker[1], scene.marker[3], scene.marker[4]
    band = edge + tilt_x * hit[..., 0] + tilt_y * hit[..., 1]
    beyond = xp.stack(
        [hit[0, :, 2], band[1] - hit[1, :, 2], hit[2, :, 2] - band[2] - width, scene.exposed - hit[3, :, 2]]
    )
    slope_x, slope_y = getattr(scene, "far_slope", (0.0, 0.0))  # the first renderer's far ends are square
    slanted = xp.minimum(
        slope_x * hit[..., 0] + slope_y * hit[..., 1], 0.0
    )  # the shaft itself is cut off square
    beyond = beyond + xp.array([0.0, 0.0, 0.0, 1.0])[:, None] * slanted
    cls = cls.reshape(4, -1)
    before = (cls == int(Material.OCCLUDER)) | (cls == int(Material.LOCK))
    return (beyond > 0) + 2 * before + 4 * (cls == int(Material.SHAFT))


def card_backwards(scene: Any) -> Any:
    """Turn a scene's card about the middle of its face by half a turn: its arrow points away from the seal."""
    middle = np.append(np.array(CARD_MIDDLE_MM) * scene.card_scale, 0.0)
    turned = scene.card_rot @ np.diag([-1.0, -1.0, 1.0])
    origin = scene.card_origin + scene.card_rot @ middle - turned @ middle
    return scene._replace(card_rot=turned.astype(np.float32), card_origin=origin.astype(np.float32))


def rays(points: Any, eye_mm: Any, xp: Any = np) -> Any:
    """Return unit directions (N, 3) from the camera centre through points (..., 3)."""
    d = points.reshape(-1, 3) - eye_mm
    return d / xp.sqrt((d * d).sum(1))[:, None]


def shaft_interval(scene: Scene, eye_mm: Any, d: Any, xp: Any = np) -> tuple[Any, Any, Any]:
    """Where rays (N, 3) meet the exposed shaft as if nothing stood in front.

    Returns
    -------
    meets (N,) bool; t_mm (N,) to the near surface; t_axis_mm (N,) to the closest approach to the axis.
    """
    o = eye_mm
    a = d[:, 0] ** 2 + d[:, 1] ** 2 + 1e-12
    half_b = o[0] * d[:, 0] + o[1] * d[:, 1]
    c = o[0] ** 2 + o[1] ** 2 - scene.radius**2
    disc = half_b**2 - a * c
    t_axis = -half_b / a
    t = t_axis - xp.sqrt(xp.maximum(disc, 0.0)) / a
    z = o[2] + t * d[:, 2]
    return (disc > 0) & (z >= 0) & (z <= scene.exposed), t, t_axis


def finder_labels(scene: Scene, eye_mm: Any, d: Any, part: Any, xp: Any = np) -> Any:
    """Labels (N,) of the finder: bit 0 exposed shaft, hidden or not; bit 1 shaft or marker visible there."""
    meets, _, _ = shaft_interval(scene, eye_mm, d, xp)
    seen = (part == Part.SHAFT) | (part == Part.MARKER) | (part == Part.LOCK)
    return meets.astype(xp.uint8) + 2 * (seen & (meets | (part != Part.SHAFT))).astype(xp.uint8)


def reader_labels(scene: Scene, eye_mm: Any, d: Any, part: Any, t_mm: Any, xp: Any = np) -> Any:
    """Material classes (N,) of the reader; card and clutter: occluder in front of the shaft, else other."""
    cls = scene.cls[part].astype(xp.int32)
    a = d[:, 0] ** 2 + d[:, 1] ** 2 + 1e-12
    half_b = eye_mm[0] * d[:, 0] + eye_mm[1] * d[:, 1]
    gap = xp.sqrt(xp.maximum(eye_mm[0] ** 2 + eye_mm[1] ** 2 - half_b**2 / a, 0.0))
    in_front = (gap < scene.radius) & (t_mm < -half_b / a)
    loose = (cls == Material.CARD) | (part >= Part.FINGER) & (part < Part.LEG_SHAFT)
    return xp.where(loose, xp.where(in_front, int(Material.OCCLUDER), int(Material.OTHER)), cls).astype(
        xp.uint8
    )

"""Lines drawn by hand along the shaft's edges: where the axis starts, and what they say as silhouettes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Camera
from calibration.pose import CardPose
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM, SILHOUETTE_SD_PX, Observations

# Error that all points set by hand on one edge share, px: a blurred edge is taken on its light or its dark side all
# along (judgement, no source; the transition of a sharp phone photo is 1 to 2 px wide).
HAND_COMMON_SD_PX = 0.5
# Two lines nearer to each other than this share of the diameter, in the card's plane, are one edge drawn twice: a shaft
# 40 mm behind the card at 250 mm, the worst that is read, shows 0.86 of it.
LEAST_WIDTH = 0.5


@dataclass(frozen=True)
class AxisStart:
    """Axis in the card's plane: x = x_mm + slope (y - 84 mm), mm on the card."""

    x_mm: float
    slope: float


def on_card_plane(points_px: np.ndarray, camera: Camera, pose: CardPose) -> np.ndarray:
    """Intersect lines of sight with the card's plane, (n, 2) in the card's x and y, mm."""
    rays = camera.rays(points_px) @ pose.R_cam_card
    eye = -pose.R_cam_card.T @ pose.t_cam_card_mm
    return np.asarray((eye + rays * (-eye[2] / rays[:, 2])[:, None])[:, :2])


def axis_start(lines_mm: tuple[np.ndarray, ...], rims_mm: np.ndarray, diameter_mm: float) -> AxisStart | None:
    """Place the axis in the card's plane from lines along the edges and the middles of the rims.

    Parameters
    ----------
    lines_mm : tuple of ndarray of shape (n, 2)
        From `on_card_plane`.
    rims_mm : ndarray of shape (m, 2)
        Middles of the rims that were set, likewise.
    diameter_mm : float

    Returns
    -------
    AxisStart or None
        None where neither two lines, nor a line and a rim, nor two rims are given.
    """
    if len(lines_mm) == 2:
        fits = [_line(line) for line in lines_mm]
        return AxisStart(*(0.5 * (a + b) for a, b in zip(*fits, strict=True)))
    if len(lines_mm) == 1 and len(rims_mm):
        x_mm, slope = _line(lines_mm[0])
        at = np.median(rims_mm[:, 0] - slope * (rims_mm[:, 1] - S_ORIGIN_ON_CARD_MM)) - x_mm
        return AxisStart(x_mm + 0.5 * diameter_mm * float(np.sign(at) or 1.0), slope)
    return AxisStart(*_line(rims_mm)) if len(rims_mm) > 1 else None


def too_close(lines_mm: tuple[np.ndarray, ...], diameter_mm: float) -> bool:
    """Whether two lines lie too close together to be the two edges of this shaft."""
    if len(lines_mm) < 2:
        return False
    (a, _), (b, _) = (_line(line) for line in lines_mm)
    return abs(a - b) < LEAST_WIDTH * diameter_mm


def with_lines(
    observations: Observations,
    lines_px: tuple[np.ndarray, ...],
    start: AxisStart,
    pose: CardPose,
    sd_px: float,
) -> Observations:
    """Take lines drawn by hand as silhouettes.

    Parameters
    ----------
    observations : Observations
    lines_px : tuple of ndarray of shape (n, 2)
    start : AxisStart
        Tells which line is which side.
    pose : CardPose
    sd_px : float
        Of one of their points.
    """
    camera = observations.camera
    off_mm = []
    for line in lines_px:
        x_mm, y_mm = on_card_plane(line, camera, pose).T
        off_mm.append(float(np.mean(x_mm - start.x_mm - start.slope * (y_mm - S_ORIGIN_ON_CARD_MM))))
    sides = [np.zeros((0, 2)), np.zeros((0, 2))]
    if len(lines_px) == 2:
        sides = [lines_px[k] for k in np.argsort(off_mm)]
    elif lines_px:
        sides[int(off_mm[0] > 0)] = lines_px[0]
    whole = float(np.hypot(SILHOUETTE_SD_PX, HAND_COMMON_SD_PX))
    return replace(
        observations,
        left_px=sides[0],
        right_px=sides[1],
        side_sd_px=(whole, whole),
        side_point_sd_px=(sd_px, sd_px),
    )


def _line(points_mm: np.ndarray) -> tuple[float, float]:
    """Fit x = a + slope (y - 84 mm)."""
    slope, x_mm = np.polyfit(points_mm[:, 1] - S_ORIGIN_ON_CARD_MM, points_mm[:, 0], 1)
    return float(x_mm), float(slope)

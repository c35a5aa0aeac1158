"""The shaft's two silhouettes in linear light, to a fraction of a pixel, in short windows along the shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.camera import Camera
from calibration.light import linear_table
from vision.cylinder import Cylinder

# Window along the shaft over which one silhouette point is averaged, mm: long enough to beat noise, short
# enough to fit between two coils (coil pitch 9 to 22 mm less the wire's 6 to 13).
WINDOW_MM = 2.0
ROW_MM = 0.4
# Step across the edge, px.
STEP_PX = 0.5
# An edge counts for lines up to about a pixel beside its peak: windows are not perfectly straight.
NEAR_PEAK = np.exp(-0.5 * (np.arange(-3, 4) * STEP_PX / 0.6) ** 2)


@dataclass(frozen=True)
class EdgePoints:
    """Points on one silhouette.

    Attributes
    ----------
    points_px : ndarray of shape (n, 2)
    offset_px : ndarray of shape (n,)
        Distance from the predicted silhouette, positive outwards.
    strength : ndarray of shape (n,)
        Step of linear light across the edge over the noise beside it.
    s_mm : ndarray of shape (n,)
    """

    points_px: np.ndarray
    offset_px: np.ndarray
    strength: np.ndarray
    s_mm: np.ndarray


@dataclass(frozen=True)
class EdgeStrip:
    """A straightened strip along one predicted silhouette.

    Attributes
    ----------
    gradient : ndarray of shape (n_windows, n_offsets)
        Size of the step per px across, over the noise.
    offsets_px : ndarray of shape (n_offsets,)
    line_px, normal_px : ndarray of shape (n_windows, 2)
        Predicted silhouette and its outward unit normal at each window's middle.
    s_mm : ndarray of shape (n_windows,)
    """

    gradient: np.ndarray
    offsets_px: np.ndarray
    line_px: np.ndarray
    normal_px: np.ndarray
    s_mm: np.ndarray


def edge_strip(
    pixels: np.ndarray,
    camera: Camera,
    cylinder: Cylinder,
    side: int,
    s_range_mm: tuple[float, float],
    reach_px: float,
) -> EdgeStrip:
    """Straighten the picture along a predicted silhouette.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        Upright photo.
    camera, cylinder
        The prediction.
    side : int
        +1 or -1, the side of the axis as in `Cylinder.axis_distance_mm`.
    s_range_mm : tuple of float
    reach_px : float
        Half-width of the strip.
    """
    import cv2

    rows = max(int((s_range_mm[1] - s_range_mm[0]) / ROW_MM), 5)
    s = np.linspace(*s_range_mm, rows)
    phi = side * cylinder.silhouette_phi()
    line = camera.project(cylinder.surface(s, np.full(rows, phi)))
    outer = camera.project(cylinder.surface(s, np.full(rows, phi), cylinder.radius_mm * 1.02))
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.c_[-along[:, 1], along[:, 0]]
    normal *= np.sign(np.sum(normal * (outer - line), axis=1, keepdims=True))
    offsets = np.arange(-reach_px - 2, reach_px + 2 + STEP_PX / 2, STEP_PX)
    grid = line[:, None, :] + offsets[None, :, None] * normal[:, None, :]
    low = np.floor(grid.reshape(-1, 2).min(axis=0)).astype(int) - 2
    high = np.ceil(grid.reshape(-1, 2).max(axis=0)).astype(int) + 3
    low, high = np.maximum(low, 0), np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    if np.any(high - low < 4):
        empty = np.zeros((0, 2))
        return EdgeStrip(np.zeros((0, len(offsets))), offsets, empty, empty, np.zeros(0))
    light = cv2.LUT(np.ascontiguousarray(pixels[low[1] : high[1], low[0] : high[0]]), _table3())
    local = (grid - low).astype(np.float32)
    strip = cv2.remap(light, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    inside = (
        (grid[..., 0] > 1)
        & (grid[..., 1] > 1)
        & (grid[..., 0] < pixels.shape[1] - 2)
        & (grid[..., 1] < pixels.shape[0] - 2)
    )
    per = max(round(WINDOW_MM / ROW_MM), 1)
    n = rows // per
    blocks = strip[: n * per].reshape(n, per, len(offsets), 3)
    mean = blocks.mean(axis=1)
    # Smooth across by about a pixel: below that, demosaicing and JPEG make steps of their own.
    kernel = np.exp(-0.5 * (np.arange(-4, 5) * STEP_PX / 0.7) ** 2)
    kernel /= kernel.sum()
    smooth = cv2.filter2D(mean, -1, kernel[None, :], borderType=cv2.BORDER_REPLICATE)
    step = np.abs(np.gradient(smooth, STEP_PX, axis=1))
    noise = np.median(np.abs(np.diff(blocks, axis=1)), axis=(1, 2)) / per**0.5 + 2e-4
    gradient = np.sqrt(np.sum((step / noise[:, None, :]) ** 2, axis=2))
    middle = np.arange(n) * per + per // 2
    gradient[~inside[middle]] = 0.0
    return EdgeStrip(gradient, offsets, line[middle], normal[middle], s[middle])


def _table3() -> np.ndarray:
    return np.repeat(linear_table()[None, :, None], 3, axis=2)


def points_near(strip: EdgeStrip, offset_px: np.ndarray, within_px: float, floor: float = 3.0) -> EdgePoints:
    """The strongest edge in each window near an expected offset.

    Parameters
    ----------
    strip : EdgeStrip
    offset_px : ndarray of shape (n_windows,)
        Where the edge is expected.
    within_px : float
    floor : float
        Least step over noise that counts as an edge.
    """
    g, o = strip.gradient, strip.offsets_px
    near = np.abs(o[None, :] - offset_px[:, None]) <= within_px
    masked = np.where(near, g, 0.0)
    masked[:, [0, -1]] = 0.0
    k = np.argmax(masked, axis=1)
    r = np.arange(len(g))
    peak = masked[r, k]
    k = np.clip(k, 1, len(o) - 2)
    a, b, c = g[r, k - 1], g[r, k], g[r, k + 1]
    bend = a - 2 * b + c
    shift = np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1.0), 0.0)
    at = o[k] + np.clip(shift, -0.5, 0.5) * STEP_PX
    keep = (peak > floor) & (b >= a) & (b >= c)
    at = at[keep]
    return EdgePoints(
        strip.line_px[keep] + at[:, None] * strip.normal_px[keep], at, peak[keep], strip.s_mm[keep]
    )


@dataclass(frozen=True)
class Expected:
    """Where the reader network sees one edge, relative to the predicted silhouette.

    Attributes
    ----------
    offset_px, slope_px : float
        Outward offset at the strip's middle, and what it gains to the strip's end.
    sd_px : float
        How well either is known.
    """

    offset_px: float
    slope_px: float
    sd_px: float


@dataclass(frozen=True)
class Agreement:
    """The pair of straight edges that the two strips agree on best.

    Attributes
    ----------
    offset_px : tuple of two ndarrays
        Expected offset in each window of either strip, outwards.
    support : tuple of float
        Share of the windows in use in which an edge lies there, on either side.
    rival : float
        Score of the best clearly different pair, less the best pair's; at most 0, near 0 in doubt.
    """

    offset_px: tuple[np.ndarray, np.ndarray]
    support: tuple[float, float]
    rival: float


def agree(
    strips: tuple[EdgeStrip, EdgeStrip],
    in_use: tuple[np.ndarray, np.ndarray],
    cylinder: Cylinder,
    px_per_mm: float,
    expected: tuple[Expected, Expected],
) -> Agreement:
    """Choose one line in either strip so that both make one cylinder of the known diameter.

    Reflections in a polished tube run along the axis just as its silhouettes do. What tells them apart: the
    pair must lie a diameter apart at a depth that the card allows, with next to no taper, over the shaft's
    whole length, near where the finder saw it.

    Parameters
    ----------
    strips, in_use
        Either side's strip (positive side first) and which of its windows show the shaft's own edge.
    cylinder : Cylinder
    px_per_mm : float
    expected : tuple of two Expected
        Where the network sees either edge.
    """
    from scipy.ndimage import convolve1d

    depth_mm = cylinder.camera_distance_mm()
    width_px = 2 * cylinder.radius_mm * px_per_mm
    scores, slopes_px = [], np.linspace(-1.0, 1.0, 9) * max(1.0, 0.5 * px_per_mm)
    offsets = strips[0].offsets_px
    for strip, use in zip(strips, in_use, strict=True):
        soft = strip.gradient / (strip.gradient + 8.0)
        # Only peaks count, else a broad slope beats a sharp edge.
        peak = (soft >= np.roll(soft, 1, axis=1)) & (soft >= np.roll(soft, -1, axis=1))
        soft = np.where(peak, soft, 0.0)
        ridge = convolve1d(soft, NEAR_PEAK, axis=1, mode="constant") if len(soft) else soft
        ridge = np.minimum(ridge, 1.0)[use]
        place = _place(strip.s_mm)[use]
        rows = []
        for slope in slopes_px:
            shift = np.rint(slope * place / STEP_PX).astype(int)
            cols = np.clip(np.arange(len(offsets))[None, :] + shift[:, None], 0, len(offsets) - 1)
            rows.append(
                np.take_along_axis(ridge, cols, axis=1).mean(axis=0) if len(ridge) else np.zeros(len(offsets))
            )
        scores.append(np.array(rows))
    n = [int(u.sum()) for u in in_use]
    # Windows along one reflection or one edge say the same thing: so their weight is bounded.
    weight = [min(0.5 * k, 20.0) for k in n]
    half_mm = max(0.5 * float(np.ptp(strips[0].s_mm)), 5.0) if len(strips[0].s_mm) > 1 else 5.0
    o1, o2 = np.meshgrid(offsets, offsets, indexing="ij")
    gap_mm = -(o1 + o2) / width_px * depth_mm
    # Card laid level by eye (sd 3 mm), the focal length's 1.2 % and the finder's own error: 5 mm in all.
    base = -0.5 * (gap_mm / 5.0) ** 2
    for o, e in ((o1, expected[0]), (o2, expected[1])):
        base = base - 0.5 * ((o - e.offset_px) / e.sd_px) ** 2
    best = np.full(base.shape, -np.inf)
    pick = np.zeros((*base.shape, 2), int)
    for i, m1 in enumerate(slopes_px):
        for j, m2 in enumerate(slopes_px):
            tilt = (m1 + m2) / width_px * depth_mm / half_mm
            total = base - 0.5 * (tilt / 0.05) ** 2
            for m, e in ((m1, expected[0]), (m2, expected[1])):
                total = total - 0.5 * ((m - e.slope_px) / e.sd_px) ** 2
            total = total + weight[0] * scores[0][i][:, None] + weight[1] * scores[1][j][None, :]
            better = total > best
            best = np.where(better, total, best)
            pick[better] = (i, j)
    a, b = np.unravel_index(int(np.argmax(best)), best.shape)
    i, j = pick[a, b]
    chosen = (
        offsets[a] + slopes_px[i] * _place(strips[0].s_mm),
        offsets[b] + slopes_px[j] * _place(strips[1].s_mm),
    )
    apart = (np.abs(o1 - offsets[a]) > 2.5) | (np.abs(o2 - offsets[b]) > 2.5)
    rival = float(np.max(np.where(apart, best, -np.inf)))
    return Agreement(chosen, (float(scores[0][i, a]), float(scores[1][j, b])), rival - float(best[a, b]))


def _place(s_mm: np.ndarray) -> np.ndarray:
    """Windows' places from -1 to 1."""
    if len(s_mm) < 2:
        return np.zeros(len(s_mm))
    return (s_mm - s_mm.mean()) / (0.5 * np.ptp(s_mm))

"""Lines that the photo itself shows along the silhouettes, and what they say of soft and of vague silhouettes.

Where an edge is blurred over several pixels its place depends on where the blur arose: in light (lens, motion) or in
code values (shrinking, enlarging, a phone's digital zoom). Between a dark and a bright side the tone curve parts both
by half the blur or so. The silhouette networks have learnt the former from rendered photographs; the steepest gradient
in code values is the latter. Nothing in the photo says which it was.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vision.adjustment.solve import solve
from vision.geometry.views import EDGE_COLUMNS, EDGE_STEP_MM, ReaderFrame, edge_column_u, edge_view
from vision.shaft.edges import OWN_SHARE, whole_and_point_sd_px
from vision.shaft.fit import ShaftFit

# Blur (Gaussian sd) of the card's edges, px, from which a photo counts as soft: those of 170 sharp ones have 0.3 to
# 0.75, of blurred ones and of enlarged real ones 0.8 and more.
SOFT_CARD_PX = 0.75
# Width (Gaussian sd) of the sharpest line along the shaft, px, from which the shaft is soft, too: 0.8 to 1.3 in sharp
# photos, of which this measure itself takes some 0.7. A reflection may be soft in a sharp photo; not all lines are.
SOFT_LINE_PX = 1.4
# Rows of 1 mm that are averaged before the gradient is taken: the length over which an edge's points are correlated.
BLOCK_ROWS = 8
# Lines are searched for up to so far from the network's silhouette, px, and within this share of the radius.
REACH_PX, REACH_SHARE = 8.0, 0.3
# Blocks that a silhouette needs, and the mean share of the blocks' steepest gradients from which a line runs along it.
MIN_BLOCKS, MIN_SUPPORT, CLEAR_SUPPORT = 3, 0.5, 0.6
# Gradients, code values a pixel, that noise and JPEG leave where there is no line.
NOISE_CODES = 3.0
# Rows of 1 mm between the first and the last point of a silhouette: longer than any shaft in reach of the view (the
# longest of an off-road fork shows some 330 mm). A fit that ran away spread its points over 25 m, and views over 21 GB.
MOST_ROWS = 600
# Smoothing of the gradient, px (sd).
SMOOTH_PX = 0.5
# Silhouettes in soft photos are put halfway between the network's and the photo's line. Uniform between both is 1/√12
# of the distance; both sides err alike, which the adjustment, taking them as independent, needs √2 times as much for.
HALFWAY, HALFWAY_SHARE = 0.5, 6**-0.5
# A line farther from the network's silhouette than so many of its standard uncertainties is another one, a reflection
# or what stands beside: of 545 silhouettes of shrunk, sharpened, enlarged and blurred copies the true one lies 0.4 of
# the way to a line within 4, 0.2 from 4 to 6, 0.05 to 11, 0.00 beyond (docs/measured.md, "Shrunk and enlarged
# copies"). Between both limits the way moved falls evenly. In soft photos the uncertainty does not: that real ones'
# marks agree with such lines oftener than rendered ones' silhouettes is unexplained.
MAYBE_OTHER_SDS, SURELY_OTHER_SDS = 4.0, 7.0


@dataclass(frozen=True)
class PhotoLine:
    """A line in the photo along a silhouette.

    Attributes
    ----------
    offset_px : float
        Distance from the network's silhouette, positive away from the shaft.
    width_px : float
        Standard deviation of a Gaussian as wide as its gradient.
    support : float
        Mean over the blocks of its gradient relative to the steepest one.
    """

    offset_px: float
    width_px: float
    support: float


def lines_along(
    view: np.ndarray, at_columns: np.ndarray, column_px: float, reach_px: float
) -> list[PhotoLine]:
    """Find lines parallel to a silhouette.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, 64, 3)
        Edge view, the shaft on the left.
    at_columns : ndarray of shape (rows,)
        Column of the network's silhouette in each row; NaN where it was not found.
    column_px : float
        Width of a column, px of the photo.
    reach_px : float

    Returns
    -------
    list of PhotoLine
        From the shaft outwards.
    """
    step_px = 0.25
    offsets = np.arange(-reach_px, reach_px + 0.5 * step_px, step_px)
    taps = np.arange(-4 * SMOOTH_PX, 4.5 * SMOOTH_PX, step_px)
    kernel = np.exp(-0.5 * (taps / SMOOTH_PX) ** 2)
    # Beyond the window by half the kernel's length, so that smoothing leaves no false maxima at its ends.
    wider = np.arange(-(len(taps) // 2), len(offsets) + len(taps) // 2) * step_px - reach_px
    # All blocks at once: one by one they took three times as long.
    count = len(view) // BLOCK_ROWS
    at = at_columns[: count * BLOCK_ROWS].reshape(count, BLOCK_ROWS)
    seen_in = np.isfinite(at)
    used = np.flatnonzero(seen_in.sum(axis=1) >= BLOCK_ROWS // 2)
    if len(used) < MIN_BLOCKS:
        return []
    middle = np.where(seen_in, at, 0.0)[used].sum(axis=1) / seen_in[used].sum(axis=1)
    colours = view[: count * BLOCK_ROWS].reshape(count, BLOCK_ROWS, *view.shape[1:])[used].mean(axis=1)
    steep = np.linalg.norm(np.gradient(colours, column_px, axis=1), axis=2)
    seen = _between(steep, middle[:, None] + wider / column_px)
    seen = np.lib.stride_tricks.sliding_window_view(seen, len(kernel), axis=1) @ (kernel / kernel.sum())
    mean = np.mean(seen / (seen.max(axis=1, keepdims=True) + NOISE_CODES), axis=0)
    peaks = 1 + np.flatnonzero((mean[1:-1] >= mean[:-2]) & (mean[1:-1] > mean[2:]))
    return [_line(offsets, mean, int(k)) for k in peaks]


def _between(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Interpolate in each row of values at (fractional) columns; beyond the last ones as there."""
    at = np.clip(at, 0, values.shape[1] - 1)
    left = np.minimum(at.astype(int), values.shape[1] - 2)
    before, after = (np.take_along_axis(values, left + k, axis=1) for k in (0, 1))
    return np.asarray(before + (at - left) * (after - before))


def _line(offsets_px: np.ndarray, steep: np.ndarray, peak: int) -> PhotoLine:
    """Measure a maximum: the vertex of its parabola, the narrower half of its half width."""
    before, here, after = steep[peak - 1 : peak + 2]
    step_px = offsets_px[1] - offsets_px[0]
    bend = before - 2 * here + after
    vertex = 0.5 * (before - after) / bend if bend else 0.0
    low = np.flatnonzero(steep[:peak] < 0.5 * here)
    high = np.flatnonzero(steep[peak:] < 0.5 * here)
    sides = [peak - low[-1] if len(low) else len(steep), high[0] if len(high) else len(steep)]
    half_px = float(min(sides) * step_px)
    return PhotoLine(float(offsets_px[peak] + vertex * step_px), 2 * half_px / 2.355, float(here))


def line_of_silhouette(lines: list[PhotoLine]) -> PhotoLine | None:
    """Choose the line that the silhouette may be: the one at it, else the only clear one near it."""
    at_it = [one for one in lines if abs(one.offset_px) < one.width_px and one.support > MIN_SUPPORT]
    if at_it:
        return max(at_it, key=lambda one: one.support)
    clear = [one for one in lines if one.support > CLEAR_SUPPORT]
    return clear[0] if len(clear) == 1 else None


def share_of_line(line: PhotoLine, sd_px: float) -> float:
    """Weigh whether a line may be the silhouette: 1 near the network's, falling to 0 where it is another line.

    Parameters
    ----------
    line : PhotoLine
    sd_px : float
        Standard uncertainty of the network's silhouette as a whole.
    """
    away = abs(line.offset_px) / max(sd_px, 1e-6)
    return float(np.clip((SURELY_OTHER_SDS - away) / (SURELY_OTHER_SDS - MAYBE_OTHER_SDS), 0.0, 1.0))


def with_soft_edges(fit: ShaftFit, pixels: np.ndarray, card_blur_px: float) -> ShaftFit:
    """Move silhouettes up to halfway to the photo's own lines, and widen their uncertainty.

    In a soft photo either silhouette; in a sharp one a silhouette beside which, not at which, a clear line runs that it
    may be.

    Parameters
    ----------
    fit : ShaftFit
    pixels : ndarray of uint8, shape (h, w, 3)
    card_blur_px : float
        Gaussian sd of the card's edges.

    Returns
    -------
    ShaftFit
        The same object where no line says anything.
    """
    if fit.frame is None:
        return fit
    observations = fit.observations
    found = [_lines(fit, fit.frame, pixels, side) for side in (1, -1)]
    clear = [one.width_px for lines in found for one in lines if one.support > MIN_SUPPORT]
    soft = card_blur_px >= SOFT_CARD_PX and bool(clear) and min(clear) >= SOFT_LINE_PX
    points, sds, point_sds = [], [], []
    moved = False
    for k, (side, lines) in enumerate(zip((1, -1), found, strict=True)):
        seen_px = (observations.left_px, observations.right_px)[k]
        sd_px, point_sd_px = observations.side_sd_px[k], observations.side_point_sd_px[k]
        line = line_of_silhouette(lines)
        share = 0.0 if line is None else share_of_line(line, sd_px / OWN_SHARE)
        if line is not None and (soft or (share > 0 and abs(line.offset_px) > line.width_px)):
            moved = True
            seen_px = _moved(seen_px, fit.frame, side, HALFWAY * share * line.offset_px)
            further_px = HALFWAY_SHARE * (1.0 if soft else share) * abs(line.offset_px)
            sd_px, point_sd_px = whole_and_point_sd_px(sd_px, point_sd_px, further_px, len(seen_px))
        points.append(seen_px)
        sds.append(sd_px)
        point_sds.append(point_sd_px)
    if not moved:
        return fit
    observations = replace(
        observations,
        left_px=points[0],
        right_px=points[1],
        side_sd_px=(sds[0], sds[1]),
        side_point_sd_px=(point_sds[0], point_sds[1]),
    )
    # The frame stays: the networks have learnt views whose silhouettes are where a network saw them.
    return ShaftFit(solve(fit.solution.theta, observations), observations, fit.frame)


def _lines(fit: ShaftFit, frame: ReaderFrame, pixels: np.ndarray, side: int) -> list[PhotoLine]:
    """Find the photo's lines along one silhouette of the fit."""
    points_px = fit.observations.left_px if side == 1 else fit.observations.right_px
    if len(points_px) < MIN_BLOCKS * BLOCK_ROWS // 2:
        return []
    s_mm, u = _along(points_px, frame, side)
    rows = np.floor((s_mm - frame.s0_mm) / EDGE_STEP_MM).astype(int)
    first, last = max(int(rows.min()), 0), int(rows.max()) + 1
    if not 0 < last - first <= MOST_ROWS:
        # The fit has left the view, or runs through it into the distance: this side shows nothing.
        return []
    reach_u = frame.fine_reach_u
    at = np.full(last - first, np.nan)
    inside = rows >= first
    # The straight line that the points follow.
    line = np.polyfit(rows, u, 1) if np.ptp(rows) > BLOCK_ROWS else np.array([0.0, float(np.median(u))])
    at[rows[inside] - first] = (np.polyval(line, rows[inside]) - 1 + reach_u) / edge_column_u(reach_u) - 0.5
    view = edge_view(pixels, frame, side, (first, last), reach_u)
    column_px = edge_column_u(reach_u) * frame.px_per_radius
    reach_px = min(REACH_PX, REACH_SHARE * frame.px_per_radius, 0.5 * EDGE_COLUMNS * column_px)
    return lines_along(view, at, column_px, reach_px)


def _along(points_px: np.ndarray, frame: ReaderFrame, side: int) -> tuple[np.ndarray, np.ndarray]:
    """Positions of points along the axis, mm, and across it, radii, in the plane of the view."""
    cylinder = frame.cylinder
    rays = frame.camera.rays(points_px)
    towards, sideways = cylinder.basis
    # The plane through the axis that faces the camera.
    depth = np.dot(cylinder.point_cam, towards) / (rays @ towards)
    at = depth[:, None] * rays - cylinder.point_cam
    return at @ cylinder.axis_cam, side * (at @ sideways) / cylinder.radius_mm


def _moved(points_px: np.ndarray, frame: ReaderFrame, side: int, outwards_px: float) -> np.ndarray:
    """Move points of a silhouette away from the shaft's axis."""
    s_mm, u = _along(points_px, frame, side)
    rows = (s_mm - frame.s0_mm) / (frame.s_mm(1.0) - frame.s_mm(0.0))
    return np.asarray(
        frame.camera.project(frame.points_cam(rows, -side * (u + outwards_px / frame.px_per_radius)))
    )

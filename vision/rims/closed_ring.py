"""A band round the shaft by the photo alone: a closed ring of one width that stands out beyond the silhouettes.

The part networks see thin bands on slanted views faintly, in all columns alike: each point for itself looks more like
shaft. What is mirrored in a tube runs along it, and letters, drops and scratches do not reach round it: of what
crosses every column at one place along the axis only rings remain, and of these a marker alone is wider than the shaft.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_STEP_MM, ReaderFrame
from vision.rims.bow import MEAN_ARC

# Lateral positions looked at, radii: nearer to the silhouettes a ring is seen too aslant.
LOOKED_AT_U = np.linspace(-0.85, 0.85, 27)
# Distances beyond either silhouette, mm, at which what stands out is looked for: past the blur, within a strap (1.0 to
# 1.45 mm thick, trade figures), whose own radius says where along the axis it is seen there.
BEYOND_MM, STRAP_MM = np.linspace(0.5, 0.9, 3), 1.3
# Widths of bands, mm (trade figures: 2.0 to 4.8), rows within either edge that are left out, and what of the shaft
# beside a band is compared with it: a gap for blur, and a stretch.
WIDTHS_MM, WITHIN_ROWS, PLACE_ROWS = (2.0, 3.0, 4.0), 1, 3
GAP_MM, BESIDE_MM = 0.75, 3.0
# Code values added to what a column itself varies by along the shaft: rounding and JPEG.
FLOOR_CODES = 1.0
# Share of the columns that may show less of a ring: highlights burnt out, something across.
WEAKEST_SHARE = 0.2


@dataclass(frozen=True)
class RingStrength:
    """How clearly a ring is seen at each place along the shaft.

    Attributes
    ----------
    s_mm : ndarray of shape (n,)
        Middle of the ring.
    width_mm : ndarray of shape (n,)
        Of the width tried at which it is clearest.
    on_shaft : ndarray of shape (n,)
        Least difference from the shaft before and behind it, over what each column varies by, in all columns but
        `WEAKEST_SHARE` of them.
    beyond : ndarray of shape (n,)
        The same beyond the silhouette, the clearer side, the median of `BEYOND_MM`, within `PLACE_ROWS` of the ring:
        what stands out is seen elsewhere where the view is aslant.
    """

    s_mm: np.ndarray
    width_mm: np.ndarray
    on_shaft: np.ndarray
    beyond: np.ndarray


def ring_strength(
    pixels: np.ndarray, frame: ReaderFrame, span_mm: tuple[float, float], bow: float = 0.0
) -> RingStrength | None:
    """Look for rings along a stretch of bare shaft.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    frame : ReaderFrame
    span_mm : tuple of float
        The stretch, along the axis.
    bow : float
        As in `vision.rims.bow.common_bow`.

    Returns
    -------
    RingStrength or None
        None where the stretch is too short.
    """
    s_mm = np.arange(*span_mm, READER_STEP_MM)
    beyond_u = 1 + BEYOND_MM / frame.cylinder.radius_mm
    u = np.concatenate([LOOKED_AT_U, -beyond_u, beyond_u])
    height = np.where(np.abs(u) < 1, 0.0, STRAP_MM)
    codes = _codes_on_rings(pixels, frame, s_mm, u, height, bow)
    best: RingStrength | None = None
    for width_mm in WIDTHS_MM:
        one = _of_width(s_mm, codes, width_mm)
        if one is None:
            continue
        if best is None:
            best = one
            continue
        # Each width's places begin alike and end later the narrower it is.
        n = min(len(best.s_mm), len(one.s_mm))
        best = RingStrength(
            *(
                np.where(one.on_shaft[:n] > best.on_shaft[:n], b[:n], a[:n])
                for a, b in (
                    (best.s_mm, one.s_mm),
                    (best.width_mm, one.width_mm),
                    (best.on_shaft, one.on_shaft),
                    (best.beyond, one.beyond),
                )
            )
        )
    return best


def _of_width(s_mm: np.ndarray, codes: np.ndarray, width_mm: float) -> RingStrength | None:
    from scipy.ndimage import maximum_filter1d

    width, gap, beside = (round(mm / READER_STEP_MM) for mm in (width_mm, GAP_MM, BESIDE_MM))
    first = np.arange(beside + gap, len(s_mm) - width - gap - beside)
    if len(first) < beside:
        return None
    total = np.concatenate([np.zeros((1, *codes.shape[1:])), np.cumsum(codes, axis=0)])

    def mean(start: int, after: int) -> np.ndarray:
        return np.asarray((total[first + after] - total[first + start]) / (after - start))

    band = mean(WITHIN_ROWS, width - WITHIN_ROWS)
    before, after = mean(-gap - beside, -gap), mean(width + gap, width + gap + beside)
    least = np.minimum(np.linalg.norm(band - before, axis=2), np.linalg.norm(band - after, axis=2))
    z = least / (np.median(least, axis=0) + FLOOR_CODES)
    n = len(LOOKED_AT_U)
    sides = np.median(z[:, n:].reshape(len(first), 2, len(BEYOND_MM)), axis=2)
    return RingStrength(
        s_mm[first] + 0.5 * width_mm,
        np.full(len(first), width_mm),
        np.quantile(z[:, :n], WEAKEST_SHARE, axis=1),
        np.asarray(maximum_filter1d(sides.max(axis=1), 2 * PLACE_ROWS + 1)),
    )


def _codes_on_rings(
    pixels: np.ndarray, frame: ReaderFrame, s_mm: np.ndarray, u: np.ndarray, height_mm: np.ndarray, bow: float
) -> np.ndarray:
    """Colours at positions along the axis and across the shaft, each ring on its arc, shape (n, columns, 3)."""
    import cv2

    cylinder = frame.cylinder
    radius = cylinder.radius_mm + height_mm
    across = np.clip(u * cylinder.radius_mm / radius, -1.0, 1.0)
    arc = bow * radius * (np.sqrt(1 - across**2) - MEAN_ARC)
    first, last = (float(end - frame.s0_mm) / READER_STEP_MM for end in (s_mm[0], s_mm[-1]))
    low_mm, per_row_mm = frame.surface_along_columns((first, last), u, radius)
    rows = first + (s_mm[:, None] + arc - low_mm) / per_row_mm
    at = frame.camera.project(frame.points_cam(rows, u[None, :]).reshape(-1, 3))
    at = at.reshape(len(s_mm), len(u), 2).astype(np.float32)
    seen = cv2.remap(pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen.astype(float))

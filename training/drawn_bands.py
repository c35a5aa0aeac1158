"""Bands drawn round shafts in photographs, and photographs spoilt as phones and messengers spoil them.

For ``from_marks.py``: a photograph of the trade shows no marker, so one is drawn, with the photograph's own blur, noise
and brightness.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from hand_marks import Marked

from vision.networks.classes import Part

# Cable ties of the trade are 2.5 to 4.8 mm wide and 1.0 to 1.4 mm thick; rings round suspension shafts 1.5 to 3.5 mm.
TIE_MM, TIE_THICK_MM, RING_MM = (2.5, 4.8), (1.0, 1.4), (1.5, 3.5)
# A tie's lock, mm: along the shaft, round it, off its surface.
LOCK_MM = (5.0, 4.5, 4.5)
SUPERSAMPLED = 3


@dataclass(frozen=True)
class Band:
    """A band: where its middle lies, px along the axis, half its width, px, its thickness, radii, and its looks.

    `lock_at`: angle of a tie's lock round the shaft, 0 towards the camera; None: a ring, or the lock is behind.
    """

    middle_px: float
    half_px: float
    thick_u: float
    colour: tuple[float, float, float]
    is_ring: bool
    lock_at: float | None
    lock_half_px: float
    lock_half_u: float
    lock_thick_u: float


def opened(path: Path) -> np.ndarray:
    """Read a picture upright, R, G, B; what is cut out stands on grey."""
    from PIL import Image, ImageOps

    with Image.open(path) as picture:
        whole = ImageOps.exif_transpose(picture).convert("RGBA")
    on = Image.new("RGBA", whole.size, (150, 150, 150, 255))
    on.alpha_composite(whole)
    return np.asarray(on.convert("RGB"))


def drawn(shaft: Marked, diameter_mm: float, rng: np.random.Generator) -> Band:
    """Draw a band for a shaft: a tie or a ring of any colour, most of them of the common ones."""
    px_per_mm = 2 * shaft.radius_px / diameter_mm
    start, end = shaft.ends_px
    is_ring = bool(rng.random() < 0.45)
    width = px_per_mm * rng.uniform(*(RING_MM if is_ring else TIE_MM))
    thick_mm = 0.5 * width / px_per_mm if is_ring else rng.uniform(*TIE_THICK_MM)
    common = [
        (0.04,) * 3,
        (0.85,) * 3,
        (0.9, 0.35, 0.05),
        (0.8, 0.07, 0.07),
        (0.08, 0.25, 0.8),
        (0.85, 0.75, 0.1),
        (0.1, 0.6, 0.2),
    ]
    base = np.array(common[rng.integers(len(common))]) if rng.random() < 0.75 else rng.uniform(0.03, 0.95, 3)
    colour = np.clip(base + rng.normal(0, 0.04, 3), 0.02, 0.95)
    locks = not is_ring and rng.random() < 0.7
    radius = shaft.radius_px
    return Band(
        float(rng.uniform(start + width, end - width)) if end - start > 3 * width else 0.5 * (start + end),
        0.5 * width, thick_mm * px_per_mm / radius, (float(colour[0]), float(colour[1]), float(colour[2])), is_ring,
        float(rng.uniform(-1.9, 1.9)) if locks else None,
        0.5 * max(LOCK_MM[0] * px_per_mm, 1.15 * width),
        0.5 * LOCK_MM[1] * px_per_mm / radius, LOCK_MM[2] * px_per_mm / radius,
    )  # fmt: skip


def covers(shaft: Marked, band: Band, t: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whether points are seen on the band's strap, and on its lock."""
    outer = 1 + band.thick_u
    off = t - band.middle_px - shaft.bend_px(u / outer)
    strap = (np.abs(off) < band.half_px) & (np.abs(u) < outer)
    if band.lock_at is None:
        return strap, np.zeros_like(strap)
    # an upright block on the strap: from the surface outwards, seen from the front
    side, front = np.sin(band.lock_at), np.cos(band.lock_at)
    inner, far = outer * side, (outer + band.lock_thick_u) * side
    half = band.lock_half_u * abs(front)
    lock = (np.abs(off) < band.lock_half_px) & (u > min(inner, far) - half) & (u < max(inner, far) + half)
    if front < 0:  # behind the shaft: only what stands out beside it
        lock &= np.abs(u) > outer
    return strap & ~lock, lock


def painted(pixels: np.ndarray, shaft: Marked, band: Band, rng: np.random.Generator) -> np.ndarray:
    """Paint a band into a photograph."""
    reach = shaft.radius_px * (1.3 + band.thick_u + band.lock_thick_u) + band.lock_half_px + 6
    centre = shaft.middle_px + band.middle_px * shaft.along
    high, wide = pixels.shape[:2]
    x0, y0 = (int(max(0, c - reach)) for c in centre)
    x1, y1 = int(min(wide, centre[0] + reach)), int(min(high, centre[1] + reach))
    if x1 - x0 < 4 or y1 - y0 < 4:
        return pixels
    n = SUPERSAMPLED
    ys, xs = np.mgrid[0 : n * (y1 - y0), 0 : n * (x1 - x0)]
    t, u = shaft.places(np.stack([x0 + (xs + 0.5) / n - 0.5, y0 + (ys + 0.5) / n - 0.5], axis=-1))
    strap, lock = covers(shaft, band, t, u)
    around = np.sqrt(np.clip(1 - (u / (1 + band.thick_u)) ** 2, 0, 1))
    # light from somewhere above the camera: brighter on one side
    lit = np.clip(around + rng.uniform(-0.5, 0.5) * u, 0, 1.2)
    across = np.clip((t - band.middle_px) / band.half_px, -1, 1)
    if band.is_ring:
        lit = lit * np.sqrt(np.clip(1 - 0.85 * across**2, 0, 1))
    gloss = 0.35 * rng.random() * np.exp(-(((u - rng.uniform(-0.5, 0.5)) / 0.15) ** 2))
    shade = np.where(lock, 0.55 + 0.3 * rng.random(), 0.25 + 0.75 * lit)
    white = float(np.clip(np.percentile(pixels[y0:y1, x0:x1], 95), 60, 250))
    light = np.array(band.colour) ** 2.2 * shade[..., None] + np.where(strap, gloss, 0.0)[..., None]
    cover = (strap | lock).astype(np.float32)
    # a thin shadow on the shaft beside it
    near = (np.abs(t - band.middle_px) < band.half_px + max(0.6, 0.5 * band.half_px)) & (np.abs(u) < 1)
    dark = 1 - 0.35 * rng.random() * near.astype(np.float32)
    size = (x1 - x0, y1 - y0)
    small = [
        cv2.resize(a.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        for a in (cover, dark, light * cover[..., None])
    ]
    blur = float(rng.uniform(0.4, 0.9))
    cover, dark, light = (cv2.GaussianBlur(a, (0, 0), blur) for a in small)
    before = (pixels[y0:y1, x0:x1] / 255.0) ** 2.2
    after = before * (dark * (1 - cover))[..., None] + light * (white / 235.0) ** 2.2
    grain = rng.normal(0, rng.uniform(0.5, 4), after.shape) * cover[..., None]
    out = pixels.copy()
    out[y0:y1, x0:x1] = (
        np.clip(255 * np.clip(after, 0, 1) ** (1 / 2.2) + grain, 0, 255).round().astype(np.uint8)
    )
    return out


def labelled(label: np.ndarray, shaft: Marked, band: Band, xy_px: np.ndarray) -> np.ndarray:
    """Labels of a view with the band in them; beyond the silhouettes too, where nothing else is known."""
    strap, lock = covers(shaft, band, *shaft.places(xy_px))
    hidden = label == Part.IN_FRONT
    return np.where(hidden, label, np.where(lock, Part.LOCK, np.where(strap, Part.MARKER, label))).astype(
        np.uint8
    )


def spoilt(pixels: np.ndarray, shaft: Marked, rng: np.random.Generator) -> np.ndarray:
    """Spoil a photograph at random: brightness, colour, a coarser raster, blur, noise, JPEG."""
    size = pixels.shape[1::-1]
    curve = (255 * (np.arange(256) / 255.0) ** np.exp(rng.normal(0, 0.25))).astype(np.float32)
    part = curve[pixels] * np.exp(rng.normal(0, 0.12, 3)).astype(np.float32)
    if rng.random() < 0.5:
        down = rng.uniform(max(0.4, 8 / shaft.radius_px), 1.0)
        part = cv2.resize(part, None, fx=down, fy=down, interpolation=cv2.INTER_AREA)
        part = cv2.resize(part, size, interpolation=cv2.INTER_CUBIC)
    if rng.random() < 0.4:
        part = cv2.GaussianBlur(part, (0, 0), rng.uniform(0.3, 0.04 * shaft.radius_px + 0.5))
    part = part + np.float32(rng.uniform(0, 1.5)) * rng.standard_normal(part.shape, np.float32)
    found: np.ndarray = np.clip(part, 0, 255).round().astype(np.uint8)
    if rng.random() < 0.7:
        found = recompressed(found, int(rng.integers(35, 96)))
    return found


def recompressed(pixels: np.ndarray, quality: int) -> np.ndarray:
    """Save a picture as JPEG and open it again."""
    import io

    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=quality)
    with Image.open(file) as picture:
        return np.asarray(picture)

"""Turn marks that a hand set on photographs into close views of silhouettes and rims, for ``train.py``.

    python training/near_marks.py MARKS.json --out FILE.npz --variants 4 --seed 1

Photographs are small and soft where lengths stay open: shrunk, compressed, enlarged again, sharpened. A mark that is
good to a pixel in a sharp photograph is good to a quarter of one once that is shrunk by four: copies made so show what
such pictures look like, and where the edges are. Before that marks are moved to the steepest step nearby. Views are
those of `vision.geometry.views.edge_view` and `vision.rims.refine`, fields those of ``render.py``; of a silhouette's
points that no mark settles the label is `UNKNOWN`, of a rim's "something in front".
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import drawn_bands
from hand_marks import UNKNOWN, Marked, enlarged, marked, off_polygon, part_round
from marks_command import MarksCommand
from snap_marks import snapped

from vision.geometry.sampling import mean_image, sample
from vision.geometry.views import (
    EDGE_COLUMNS,
    EDGE_REACH_U,
    EDGE_ROWS,
    EDGE_STEP_MM,
    READER_ROWS_PER_EDGE_ROW,
    READER_STEP_MM,
    edge_column_u,
    edge_u,
    fine_reach_u,
)
from vision.rims.refine import COLUMNS_AVERAGED, RIM_COLUMNS, RIM_ROWS, RIM_STEP_MM, RIM_U, RimKind

# Photographs of thinner shafts are not used: a mark's error is a millimetre of them and more.
LEAST_RADIUS_PX = 12.0
# Radius of a shaft in a copy, px: real photographs at hand show 15 to 45 px; and how many copies are as sharp as the
# photograph allows.
COPY_RADIUS_PX, AS_SHARP_SHARE = (7.0, 40.0), 0.25
# By how much a copy is enlarged afterwards, and how often.
ENLARGED_SHARE, MOST_ENLARGED = 0.6, 3.5
# Bands are drawn at this radius at least.
BAND_RADIUS_PX = 24.0
# A rim is labelled within so many radii of the axis: a bend that nobody marked shows farther out.
RIM_LABEL_U = 0.55
# How far beside a silhouette all is taken to lie behind it where no mark says more, radii.
CLEAR_U = 0.15
# Errors of an axis as its first fit leaves them, and as the second one does, shares of a radius, as
# `scenes.rectified.jittered_axis` and `solved_axis` draw them.
COARSE_SD_U, FINE_SD_U = (0.03, 0.012, 0.006), (0.012, 0.006, 0.002)
# Errors of a patch's middle along the shaft, in seven of ten and in three of ten, most, mm (`PLACES_SD_MM`).
PLACE_SD_MM, MOST_PLACE_MM = (0.3, 1.2), 2.8
# Sd of the viewing angle's tangent where no bend was marked.
SLANT_SD = 0.08
SAMPLES_OF_A_POINT = 4


@dataclass(frozen=True)
class Copy:
    """A photograph's copy with the marks in it and a drawn band, or none."""

    pixels: np.ndarray
    shaft: Marked
    band: drawn_bands.Band | None
    diameter_mm: float

    @property
    def px_per_mm(self) -> float:
        """Scale of the copy at the middle of the shaft."""
        return 2 * self.shaft.radius_px / self.diameter_mm


def copied(pixels: np.ndarray, raw: dict[str, Any], rng: np.random.Generator, with_band: bool) -> Copy:
    """Make a soft copy of a photograph."""
    photo, moved = part_round(pixels, raw, BAND_RADIUS_PX if with_band else 1.0)
    shaft, band = marked(moved), None
    diameter = shaft.diameter_mm * float(np.exp(rng.normal(0, 0.12)))
    if with_band:
        band = drawn_bands.drawn(shaft, diameter, rng)
        photo = drawn_bands.painted(photo, shaft, band, rng)
    most = marked(raw).radius_px
    low, high = COPY_RADIUS_PX
    wanted = float(np.exp(rng.uniform(np.log(low), np.log(max(min(high, 0.6 * most), low + 0.1)))))
    if rng.random() < AS_SHARP_SHARE:
        wanted = most
    first = min(wanted / shaft.radius_px, 1.0)
    photo, exact = _resized(photo, first, cv2.INTER_AREA)
    moved = enlarged(moved, np.zeros(2), exact)
    curve = (255 * (np.arange(256) / 255.0) ** np.exp(rng.normal(0, 0.25))).astype(np.float32)
    light = curve[photo] * np.exp(rng.normal(0, 0.1, 3)).astype(np.float32)
    if rng.random() < 0.5:
        light = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.3, 1.1)))
    if rng.random() < 0.5:
        light = _sharpened(light, float(rng.uniform(0.2, 1.5)), 1.0)
    light = light + np.float32(rng.uniform(0, 4)) * rng.standard_normal(light.shape, np.float32)
    photo = np.clip(light, 0, 255).round().astype(np.uint8)
    if rng.random() < 0.8:
        photo = drawn_bands.recompressed(photo, int(rng.integers(30, 96)))
    second = 1.0
    if rng.random() < ENLARGED_SHARE:
        second = float(np.exp(rng.uniform(0, np.log(MOST_ENLARGED))))
        how = cv2.INTER_CUBIC if rng.random() < 0.6 else cv2.INTER_LINEAR
        photo, exact = _resized(photo, second, how)
        moved = enlarged(moved, np.zeros(2), exact)
        if rng.random() < 0.4:
            light = _sharpened(
                photo.astype(np.float32), float(rng.uniform(0.2, 1.2)), float(rng.uniform(0.8, 2.0))
            )
            photo = np.clip(light, 0, 255).round().astype(np.uint8)
        if rng.random() < 0.6:
            photo = drawn_bands.recompressed(photo, int(rng.integers(50, 97)))
    final = marked(moved)
    if band is not None:
        scale = final.radius_px / shaft.radius_px
        band = replace(
            band,
            middle_px=band.middle_px * scale,
            half_px=band.half_px * scale,
            lock_half_px=band.lock_half_px * scale,
        )
    return Copy(photo, final, band, diameter)


def _resized(pixels: np.ndarray, factor: float, how: int) -> tuple[np.ndarray, float]:
    """Resize a picture by a factor near this one; return it and the exact factor along x."""
    size = [max(4, round(factor * n)) for n in pixels.shape[1::-1]]
    return cv2.resize(pixels, size, interpolation=how), size[0] / pixels.shape[1]


def _sharpened(light: np.ndarray, by: float, sd: float) -> np.ndarray:
    return np.asarray(light + np.float32(by) * (light - cv2.GaussianBlur(light, (0, 0), sd)))


def in_front(copy: Copy, xy_px: np.ndarray) -> np.ndarray:
    """Whether points lie under what hides the shaft or is not known, or outside the picture."""
    shaft = copy.shaft
    size = np.array(copy.pixels.shape[1::-1])
    out = ((xy_px < 0) | (xy_px > size - 1)).any(axis=-1)
    for name in ("in_front", "unknown"):
        for polygon in shaft.raw.get(name, []):
            out |= off_polygon(np.array(polygon, float), xy_px) > -shaft.mark_px
    return np.asarray(out)


def edge_views(
    copy: Copy, sd_u: tuple[float, float, float], reach_u: float, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Sample views along both silhouettes, uint8 (2, 256, 64, 3), and labels (2, 256, 64), or `UNKNOWN`."""
    shaft = copy.shaft
    off, lateral, tilt = rng.normal(0, 1, 3) * sd_u
    most = 0.5 * reach_u
    off, lateral = float(np.clip(off, -most, most)), float(np.clip(lateral, -most, most))
    tilt_u_per_mm = float(tilt) / (0.5 * copy.diameter_mm)
    middle_mm = 0.5 * sum(shaft.ends_px) / copy.px_per_mm + rng.uniform(-20, 20)
    fine_rows = EDGE_ROWS * READER_ROWS_PER_EDGE_ROW
    rows_mm = READER_STEP_MM * (np.arange(fine_rows) - 0.5 * (fine_rows - 1)) + middle_mm
    sides = _first_at(shaft) * np.array([1.0, -1.0])
    clear = {
        side: max(reach, CLEAR_U) if known else -np.inf
        for side, reach, known in zip(
            sides, shaft.raw.get("clear", (0, 0)), shaft.raw["edge_known"], strict=True
        )
    }
    views, labels = [], []
    for side in (-1.0, 1.0):
        u = side * edge_u(np.arange(EDGE_COLUMNS), reach_u) * (1 + lateral)
        at = off + tilt_u_per_mm * (rows_mm - middle_mm)[:, None] + u[None, :]
        xy = shaft.positions(np.broadcast_to(rows_mm[:, None], at.shape), at, copy.px_per_mm)
        fine = sample(copy.pixels, xy, shrink_first=False)
        views.append(mean_image([fine[k::READER_ROWS_PER_EDGE_ROW] for k in range(READER_ROWS_PER_EDGE_ROW)]))
        xy = 0.5 * (xy[1::4] + xy[2::4])
        labels.append(_edge_label(copy, xy, side, clear[side], reach_u * (1 + lateral)))
    return np.stack(views), np.stack(labels)


def _first_at(shaft: Marked) -> float:
    """On which side the first of the marked silhouettes lies."""
    return float(np.sign(shaft.places(np.array(shaft.raw["edges"][0][0], float))[1]))


def _edge_label(copy: Copy, xy_px: np.ndarray, side: float, clear_u: float, reach_u: float) -> np.ndarray:
    """Of four samples of each point, how many show bare shaft, plus 8 times how many show what lies behind it."""
    shaft, step_u = copy.shaft, edge_column_u(reach_u)
    t, u = shaft.places(xy_px)
    out_u = side * u - 1
    inside = np.rint(SAMPLES_OF_A_POINT * np.clip(0.5 - out_u / step_u, 0, 1)).astype(np.uint8)
    label = inside + 8 * (SAMPLES_OF_A_POINT - inside)
    gap_px = 2 * shaft.mark_px + 0.5 * EDGE_STEP_MM * copy.px_per_mm
    start, end = (place + shaft.bend_px(np.clip(u, -1, 1)) for place in shaft.ends_px)
    known = (t > start + gap_px) & (t < end - gap_px) & (out_u < clear_u) & ~in_front(copy, xy_px)
    if copy.band is not None:
        strap, lock = drawn_bands.covers(shaft, copy.band, t, u)
        label[strap | lock] = 0
        near = np.abs(t - copy.band.middle_px) < copy.band.half_px + gap_px
        known &= ~near | strap | lock
    label[~known] = UNKNOWN
    return np.asarray(label)


def rim_views(copy: Copy, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Patches round seal, the band's edges and far end, (4, 96, 48, 3), their labels (4, 96, 48), slants (4,)."""
    shaft, band = copy.shaft, copy.band
    places: list[float | None] = [shaft.ends_px[k] if shaft.rims[k] else None for k in (0, 1)]
    edges = [None, None] if band is None else [band.middle_px + k * band.half_px for k in (-1, 1)]
    kinds = (RimKind.SEAL, RimKind.MARKER, RimKind.MARKER, RimKind.FAR_END)
    views, labels, slants = [], [], []
    bend = float(shaft.raw.get("bend", 0.0)) / shaft.radius_px
    tangent = np.tan(np.arcsin(np.clip(bend, -0.9, 0.9))) if bend else float(rng.normal(0, SLANT_SD))
    for kind, place, sign in zip(kinds, (places[0], *edges, places[1]), (1.0, -1.0, 1.0, -1.0), strict=True):
        slants.append(np.float32(sign * tangent))
        if place is None:
            views.append(np.zeros((RIM_ROWS, RIM_COLUMNS, 3), np.uint8))
            labels.append(np.full((RIM_ROWS, RIM_COLUMNS), 5 * SAMPLES_OF_A_POINT, np.uint8))
            continue
        sd = PLACE_SD_MM[int(rng.random() < 0.3)] * (1.6 if kind is RimKind.FAR_END else 1.0)
        off_mm = float(np.clip(rng.normal(0, sd), -MOST_PLACE_MM, MOST_PLACE_MM))
        step_px = sign * RIM_STEP_MM[kind] * copy.px_per_mm
        middle = place + off_mm * copy.px_per_mm
        columns = RIM_COLUMNS * COLUMNS_AVERAGED
        fine_u = RIM_U * (2 * (np.arange(columns) + 0.5) / columns - 1)
        rows = np.arange(RIM_ROWS) - 0.5 * (RIM_ROWS - 1)
        radial = 1 + float(np.clip(rng.normal(0, 0.01), -0.03, 0.03))
        t = middle + step_px * rows[:, None] + shaft.bend_px(fine_u)[None, :]
        xy = shaft.at(t, np.broadcast_to(radial * fine_u[None, :], t.shape))
        fine = sample(copy.pixels, xy, shrink_first=False)
        views.append(mean_image([fine[:, k::COLUMNS_AVERAGED] for k in range(COLUMNS_AVERAGED)]))
        labels.append(_rim_label(copy, xy[:, 1::COLUMNS_AVERAGED], place, step_px))
    return np.stack(views), np.stack(labels), np.array(slants)


def _rim_label(copy: Copy, xy_px: np.ndarray, place_px: float, step_px: float) -> np.ndarray:
    """Of four samples of each point, how many lie beyond the rim, plus 5 times in front, plus 25 times bare shaft."""
    shaft = copy.shaft
    t, u = shaft.places(xy_px)
    beyond = np.clip((t - shaft.bend_px(u) - place_px) / step_px + 0.5, 0, 1)
    side = np.rint(SAMPLES_OF_A_POINT * beyond).astype(np.uint8)
    front = in_front(copy, xy_px) | (np.abs(u) > RIM_LABEL_U)
    along = t - shaft.bend_px(u)
    bare = (along > shaft.ends_px[0]) & (along < shaft.ends_px[1]) & ~front
    if copy.band is not None:
        strap, lock = drawn_bands.covers(shaft, copy.band, t, u)
        bare &= ~strap & ~lock
        front |= lock
    bare &= side > 0
    return np.asarray(side + 5 * SAMPLES_OF_A_POINT * front + 25 * np.where(bare, side, 0), np.uint8)


def views_of(
    raw: dict[str, Any], pixels: np.ndarray, count: int, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    """Make some sets of close views of one shaft, as ``train.py`` takes them."""
    raw = snapped(pixels, raw)
    found: dict[str, list[Any]] = {}
    for k in range(count):
        copy = copied(pixels, raw, rng, bool(k % 3))
        radius_mm = 0.5 * copy.diameter_mm
        reach = fine_reach_u(copy.shaft.radius_px, radius_mm)
        coarse, coarse_label = edge_views(copy, COARSE_SD_U, EDGE_REACH_U, rng)
        fine, fine_label = edge_views(copy, FINE_SD_U, reach, rng)
        rims, rims_label, slants = rim_views(copy, rng)
        one = {
            "edges": coarse, "edges_label": coarse_label, "fine_edges": fine, "fine_edges_label": fine_label,
            "rims": rims, "rims_label": rims_label, "rims_slant": slants,
            "marker_mm": np.float32(np.nan if copy.band is None else 0.0), "diameter_mm": np.float32(copy.diameter_mm),
            "source": raw["file"],
        }  # fmt: skip
        for name, value in one.items():
            found.setdefault(name, []).append(value)
    return {name: np.stack(values) for name, values in found.items()}


def main() -> None:
    """Command line."""
    cv2.setNumThreads(1)
    asked = MarksCommand.parsed(__doc__)
    shafts, arrays = asked.views(views_of, LEAST_RADIUS_PX)
    np.savez(asked.out, **arrays)
    print(f"{shafts} shafts, {len(arrays['rims'])} sets of views")


if __name__ == "__main__":
    main()

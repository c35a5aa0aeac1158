"""Turn marks that a hand set on photographs into labelled views along the shaft, for ``train.py``.

    python training/from_marks.py MARKS.json --out FILE.npz --variants 4 --seed 1

The marks say where a shaft's silhouettes, its seal's lip and its far rim lie in a photograph that shows no scale card.
The view is straightened along them as `vision.geometry.views.reader_view` does it: rows of 0.25 mm of the declared
diameter, columns in units of the radius. What the marks do not settle is labelled `UNKNOWN`. Each variant declares
another diameter, lies otherwise along the shaft, is spoilt otherwise, and shows a drawn band or none. `hand_marks` says
what a file of marks holds.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import drawn_bands
from hand_marks import UNKNOWN, Marked, labels, marked, part_round
from marks_command import MarksCommand

from vision.geometry.sampling import sample
from vision.geometry.views import READER_COLUMNS, READER_ROWS, READER_STEP_MM, reader_u
from vision.networks.classes import Part

# Of the view's axis against the true one: offset and radius, shares of the radius, and tilt, as `scenes.rectified`
# draws a detection's errors; a mark's own error comes on top.
OFF_SD, RADIUS_SD, TILT_SD = 0.04, 0.03, 0.008
# Small photographs are enlarged until a shaft's radius has so many pixels: a band drawn into one of 10 px is none that
# a phone's photo shows.
LEAST_RADIUS_PX = (20.0, 40.0)
# Code values are kept to this: views of 200 kB then take 60, and training adds as much noise.
CODE_STEP = 4


@dataclass(frozen=True)
class Variant:
    """How a view departs from the marks: the declared diameter, where it lies, and the axis' errors."""

    diameter_mm: float
    middle_row_mm: float
    off_u: float = 0.0
    tilt_u_per_mm: float = 0.0
    lateral: float = 1.0


def positions_of(shaft: Marked, variant: Variant) -> np.ndarray:
    """Points of the photograph under the pixels of a view, shape (1024, 64, 2)."""
    rows_mm = READER_STEP_MM * (np.arange(READER_ROWS) - 0.5 * (READER_ROWS - 1)) + variant.middle_row_mm
    off = variant.off_u + variant.tilt_u_per_mm * (rows_mm - variant.middle_row_mm)
    u = off[:, None] + variant.lateral * reader_u(np.arange(READER_COLUMNS))[None, :]
    s_mm = np.broadcast_to(rows_mm[:, None], u.shape)
    return shaft.positions(s_mm, u, 2 * shaft.radius_px / variant.diameter_mm)


def view_of(pixels: np.ndarray, shaft: Marked, variant: Variant) -> tuple[np.ndarray, np.ndarray]:
    """Sample a view, uint8 (1024, 64, 3), and its labels (1024, 64); black and unknown outside the photograph."""
    xy = positions_of(shaft, variant)
    label = labels(shaft, xy)
    size = np.array(pixels.shape[1::-1])
    label[((xy < 0) | (xy > size - 1)).any(axis=-1)] = UNKNOWN
    return sample(pixels, xy), label


def drawn_variant(shaft: Marked, rng: np.random.Generator) -> tuple[Variant, float]:
    """Draw a variant, and the row of its view beside which the card's middle lies."""
    diameter = shaft.diameter_mm * float(np.exp(rng.normal(0, 0.12)))
    mm_per_px = diameter / (2 * shaft.radius_px)
    start, end = (mm_per_px * place for place in shaft.ends_px)
    half_view = 0.5 * READER_ROWS * READER_STEP_MM
    if end - start > 1.6 * half_view:  # an end at the most is seen
        middle = rng.choice([start, end]) + rng.uniform(-0.4, 0.4) * half_view
    else:
        middle = 0.5 * (start + end) + rng.uniform(-20, 20)
    variant = Variant(
        diameter, float(middle), float(rng.normal(0, OFF_SD)),
        float(rng.normal(0, TILT_SD)) / (0.5 * diameter), 1 + float(np.clip(rng.normal(0, RADIUS_SD), -0.1, 0.1)),
    )  # fmt: skip
    # the card, 178 mm long, is laid beside the bare run
    card_mm = 0.5 * (start + end) + rng.uniform(-35, 35)
    return variant, 0.5 * (READER_ROWS - 1) + (card_mm - middle) / READER_STEP_MM


def _free_band(shaft: Marked, diameter_mm: float, rng: np.random.Generator) -> drawn_bands.Band | None:
    """Draw a band where nothing lies in front of the shaft; None if a dozen draws find no such place."""
    for _ in range(12):
        band = drawn_bands.drawn(shaft, diameter_mm, rng)
        t = band.middle_px + band.half_px * np.array([-1.0, 0.0, 1.0])[:, None]
        u = np.linspace(-0.6, 0.6, 7)[None, :]
        if (labels(shaft, shaft.at(*np.broadcast_arrays(t, u))) == Part.SHAFT).all():
            return band
    return None


def views_of(
    raw: dict[str, Any], pixels: np.ndarray, count: int, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    """Make some views of one shaft, two of three with a drawn band, as ``train.py`` takes them."""
    found: dict[str, list[Any]] = {"reader": [], "reader_label": [], "reader_card_row": [], "diameter_mm": []}
    for k in range(count):
        photo, moved = part_round(pixels, raw, float(rng.uniform(*LEAST_RADIUS_PX)))
        shaft, band = marked(moved), None
        variant, card_row = drawn_variant(shaft, rng)
        if k % 3:
            band = _free_band(shaft, variant.diameter_mm, rng)
        if band is not None:
            photo = drawn_bands.painted(photo, shaft, band, rng)
        photo = drawn_bands.spoilt(photo, shaft, rng)
        view, label = view_of(photo, shaft, variant)
        if band is not None:
            label = drawn_bands.labelled(label, shaft, band, positions_of(shaft, variant))
        found["reader"].append(
            (
                CODE_STEP * np.clip((view.astype(int) + CODE_STEP // 2) // CODE_STEP, 0, 255 // CODE_STEP)
            ).astype(np.uint8)
        )
        found["reader_label"].append(label)
        found["reader_card_row"].append(np.float32(card_row))
        found["diameter_mm"].append(np.float32(variant.diameter_mm))
    return {name: np.stack(values) for name, values in found.items()} | {
        "source": np.array([raw["file"]] * count)
    }


def main() -> None:
    """Command line."""
    asked = MarksCommand.parsed(__doc__)
    shafts, arrays = asked.views(views_of)
    np.savez_compressed(asked.out, **arrays)
    print(f"{shafts} shafts, {len(arrays['reader'])} views, {asked.out.stat().st_size} bytes")


if __name__ == "__main__":
    main()

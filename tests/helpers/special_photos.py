"""The rendered photos of special cases: their truth, what the person would have typed, and their readings."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from calibration.focal import focal_px_prior
from calibration.photo import load_photo
from strandline.demo.samples import Sample
from strandline.read.inputs import request_for
from strandline.read.parse import ReadOptions, parse_options
from vision.adjustment.observations import PriorInputs
from vision.read import read
from vision.reading import Length, Reading
from vision.request import Request

PHOTOS = Path(__file__).parents[1] / "vision" / "photos"
NAMES = sorted(p.stem for p in PHOTOS.glob("*.jpg"))
LAYOUTS = {
    "fork": "fork",
    "upside_down_fork": "upside-down-fork",
    "coil_over": "shock",
    "bare_shock": "shock",
}
QUANTITIES = ("exposed", "marker", "remaining")
# Off by more than this and by more than its own u95, a length would have misled: the project's own measure.
WRONG_MM = 1.0


def times(declared: PriorInputs, k: float) -> PriorInputs:
    """Scale the declared values of a scene k times."""
    return PriorInputs(**{name: k * value for name, value in asdict(declared).items()})


@dataclass(frozen=True)
class Case:
    """One photo as a person has it: pixels and what is declared about it."""

    pixels: np.ndarray
    request: Request

    def read(self) -> Reading:
        """Read it."""
        return read(self.pixels, self.request)

    def turned(self, quarter_turns: int) -> Case:
        """Rotate the photo anticlockwise."""
        return replace(self, pixels=np.ascontiguousarray(np.rot90(self.pixels, quarter_turns)))

    def mirrored(self) -> Case:
        """Left and right swapped."""
        return replace(self, pixels=np.ascontiguousarray(self.pixels[:, ::-1]))

    def scaled(self, k: float) -> Case:
        """Diameter, print scale and marker's width declared k times as large, each with k times its sigma."""
        declared = times(self.request.declared, k)
        width = self.request.marker_width_mm
        request = replace(
            self.request, declared=declared, marker_width_mm=None if width is None else k * width
        )
        return replace(self, request=request)


@lru_cache(maxsize=64)
def truth(name: str) -> dict[str, Any]:
    """Load the truth of the rendered photo."""
    found: dict[str, Any] = json.loads((PHOTOS / f"{name}.json").read_text(encoding="utf-8"))
    return found


def typed(name: str, **more: str) -> ReadOptions:
    """Return the options that a user would give."""
    d = truth(name)["declared"]
    return ReadOptions(
        shaft=f"{d['shaft_diameter_mm']:.2f} mm",
        layout=LAYOUTS[d["layout"]],
        print_scale=f"{d['print_scale']:g}",
        marker_color=d["marker_color"],
        marker_width=f"{d['marker_width_mm']:.1f} mm",
        **more,
    )


def case(name: str, path: Path | None = None) -> Case:
    """Load the photo, or the file made from it, with its declared values."""
    photo = load_photo(path or PHOTOS / f"{name}.jpg")
    return Case(
        photo.stored, request_for(parse_options(typed(name)), focal_px_prior(photo), photo.quarter_turns)
    )


def sample_case(sample: Sample) -> Case:
    """Load a sample photo with its declared values."""
    photo = load_photo(sample.path)
    return Case(
        photo.stored, request_for(parse_options(sample.options), focal_px_prior(photo), photo.quarter_turns)
    )


@lru_cache(maxsize=64)
def reading_of(name: str) -> Reading:
    """Read the photo, once for all tests."""
    return case(name).read()


def lengths(reading: Reading) -> dict[str, Length | None]:
    """Return the three lengths by name."""
    return {q: getattr(reading, q) for q in QUANTITIES}


def wrong_lengths(name: str, reading: Reading) -> list[str]:
    """Each length that would have misled the person, in words."""
    out = []
    for q, length in lengths(reading).items():
        true = truth(name)[f"{q}_mm"]
        if length is None:
            continue
        said = f"{q} {length.value_mm:.2f} ± {length.u95_mm:.2f} mm"
        if true is None:
            out.append(f"{said}, where there is none")
        elif abs(length.value_mm - true) > max(WRONG_MM, length.u95_mm):
            out.append(f"{said}, in truth {true:.2f} mm")
    return out

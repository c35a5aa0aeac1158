"""Bands that are painted on, and markers: drawn photos of a shaft whose silhouettes lie at 150 px to either side."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, PX_PER_RADIUS, bands, part_map
from vision.geometry.views import READER_STEP_MM
from vision.names import LengthName, RimName
from vision.networks.classes import Part
from vision.reading import Layout
from vision.reasons import Reason
from vision.rims.band_outline import BandOutline
from vision.rims.candidates import find_borders
from vision.rims.choose import choose
from vision.rims.evidence import Evidence

SEAL, FAR, BAND, ROWS = 300, 800, 500, 14
ORANGE, CHROME, GROUND = (230, 120, 30), (140, 150, 160), (60, 70, 60)
MM_PX = PX_PER_RADIUS / CYLINDER.radius_mm


def photo(
    beyond_mm: tuple[float, float],
    colour: tuple[int, int, int] = ORANGE,
    rows: tuple[int, int] = (BAND, ROWS),
) -> np.ndarray:
    """Draw ground, shaft, and a band that reaches so far beyond the silhouettes at smaller and larger x."""
    pixels = np.full((4000, 3000, 3), GROUND, np.uint8)
    middle = 1499.5
    left, right = round(middle - PX_PER_RADIUS), round(middle + PX_PER_RADIUS)
    pixels[:, left:right] = CHROME
    first, last = (
        round(1999.5 + MM_PX * (FRAME.s0_mm + READER_STEP_MM * row)) for row in (rows[0], sum(rows))
    )
    pixels[first:last, left - round(MM_PX * beyond_mm[0]) : right + round(MM_PX * beyond_mm[1])] = colour
    return pixels


def painted(pixels: np.ndarray, noise: float = 0.0) -> bool:
    if noise:
        near_band = slice(1900, 2100)
        grain = np.random.default_rng(18).normal(0, noise, pixels[near_band].shape)
        pixels[near_band] = np.clip(pixels[near_band] + grain, 0, 255)
    found = find_borders(part_map(_classes()))
    near = found.rims((Part.SHAFT,), (Part.MARKER,))[0]
    end = found.rims((Part.MARKER,), (Part.SHAFT,))[0]
    outline = BandOutline(pixels, FRAME)
    assert outline.is_painted(near, None) == outline.is_painted(near, end)
    return outline.is_painted(near, end)


def _classes() -> np.ndarray:
    """Classes as a network draws them that takes every ring for a marker, 1.5 mm beyond the shaft on either side."""
    p = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR), (Part.FAR_END, 900), (Part.ELSE, 1024))
    beside = np.r_[0:19, 45:64]
    p[:, SEAL:FAR, beside] = 0.001
    p[Part.ELSE, SEAL:FAR, beside] = 0.994
    p[:, BAND : BAND + ROWS, 18:46] = 0.001
    p[Part.MARKER, BAND : BAND + ROWS, 18:46] = 0.994
    return p


@pytest.mark.parametrize("noise", [0.0, 40.0])
def test_paint_ends_at_the_silhouettes(noise: float) -> None:
    assert painted(photo((0, 0)), noise)


@pytest.mark.parametrize("beyond_mm", [(1.0, 1.0), (1.0, 0.0), (0.0, 1.45), (3.0, 3.0)])
def test_a_marker_stands_out(beyond_mm: tuple[float, float]) -> None:
    """Straps are 1.0 to 1.45 mm thick (trade figures); one side is enough, the other may be in the shade."""
    assert not painted(photo(beyond_mm))


def test_what_shows_nothing_is_not_called_paint() -> None:
    """A band of the ground's colour, one of the shaft's, and rows in which there is none."""
    assert not painted(photo((0, 0), GROUND))
    assert not painted(photo((0, 0), CHROME))
    assert not painted(photo((0, 0), rows=(BAND + 40, ROWS)))


def test_a_painted_ring_is_no_marker_and_no_rival() -> None:
    flush = photo((0, 0))
    choice = choose(
        part_map(_classes()), Layout.FORK, None, evidence=Evidence(outline=BandOutline(flush, FRAME))
    )
    assert RimName.MARKER_NEAR not in choice.rims
    assert [(note.reason, note.quantity) for note in choice.notes] == [(Reason.NO_MARKER, LengthName.MARKER)]
    stands = choose(
        part_map(_classes()), Layout.FORK, None, evidence=Evidence(outline=BandOutline(photo((1, 1)), FRAME))
    )
    assert RimName.MARKER_NEAR in stands.rims and not stands.notes

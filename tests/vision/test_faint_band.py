"""Bands that networks see faintly: drawn photos of a shaft, square-on and 17 degrees aslant, rings by their circles."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.camera import Camera
from tests.helpers.made_frame import bands
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import ReaderFrame
from vision.networks.classes import Part, PartMap
from vision.reading import Layout
from vision.rims.choose import choose
from vision.rims.closed_ring import ring_strength
from vision.rims.faint_band import find_faint_band

RADIUS_MM, SEAL, FAR = 20.0, 300, 800
YELLOW, GROUND = (200, 190, 20), (60, 70, 60)
SLANTS = [0.0, -0.3, 0.3]
AT_MM, WIDTH_MM, STRAP_MM = 5.0, 2.5, 1.3
# Pixels drawn for one of the photo's, along either side.
FINER = 4


def frame(slant: float) -> ReaderFrame:
    """Lay a shaft of that slope at 400 mm; a lens of 1200 px, so 60 px a radius."""
    axis = np.array([0.0, 1.0, slant]) / np.hypot(1.0, slant)
    return ReaderFrame(
        Cylinder(np.array([0.0, 0.0, 400.0]), axis, RADIUS_MM), Camera.centred(1200.0, 600, 1200), -128.0
    )


def photo(view: ReaderFrame, strap_mm: float, phi: tuple[float, float] = (-1.6, 1.6)) -> np.ndarray:
    """Draw a tube that mirrors stripes along it, grain, and a ring of that thickness over a part of its round."""
    rng = np.random.default_rng(18)
    pixels = np.full((FINER * 1200, FINER * 600, 3), GROUND, np.uint8)
    s = np.array([-190.0, 190.0])
    for angle, code in zip(np.linspace(-1.5, 1.5, 40), rng.integers(60, 250, 40), strict=True):
        edges = [view.camera.project(view.cylinder.surface(s, np.full(2, angle + d))) for d in (-0.05, 0.05)]
        _fill(pixels, np.concatenate([edges[0], edges[1][::-1]]), (int(code),) * 3)
    angles = np.linspace(*phi, 60)
    ends = [
        view.camera.project(
            view.cylinder.surface(np.full(60, AT_MM + side * WIDTH_MM / 2), angles, RADIUS_MM + strap_mm)
        )
        for side in (-1, 1)
    ]
    for k in range(59):
        _fill(pixels, np.array([ends[0][k], ends[0][k + 1], ends[1][k + 1], ends[1][k]]), YELLOW)
    small = cv2.resize(pixels, (600, 1200), interpolation=cv2.INTER_AREA)
    blurred = cv2.GaussianBlur(small, (0, 0), 0.7).astype(float)
    return np.clip(blurred + rng.normal(0, 3, blurred.shape), 0, 255).astype(np.uint8)


def _fill(pixels: np.ndarray, outline_px: np.ndarray, colour: tuple[int, int, int]) -> None:
    finer = FINER * (outline_px + 0.5) - 0.5
    cv2.fillConvexPoly(pixels, np.rint(finer).astype(np.int32), colour)


def looks(view: ReaderFrame, faint: float) -> PartMap:
    """Classes of a network that sees a marker where the ring is with that probability, else bare shaft."""
    p = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR), (Part.FAR_END, 900), (Part.ELSE, 1024))
    u = view.u()
    p[:, SEAL:FAR, np.abs(u) > 1] = 0.001
    p[Part.ELSE, SEAL:FAR, np.abs(u) > 1] = 0.994
    rows = np.arange(1024)[:, None]
    on = np.clip(u, -0.97, 0.97)[None, :]
    s_mm, _ = view.cylinder.unroll(view.points_cam(rows.astype(float), on))
    here = (np.abs(s_mm - AT_MM) < WIDTH_MM / 2) & (np.abs(u) < 1.06)
    p[:, here] *= 1 - faint
    p[Part.MARKER][here] = faint
    return PartMap(p, view)


def found(
    slant: float, faint: float, strap_mm: float = STRAP_MM, phi: tuple[float, float] = (-1.6, 1.6)
) -> PartMap | None:
    """Draw in the band that is found; None where none is."""
    view = frame(slant)
    parts = looks(view, faint)
    band = find_faint_band(photo(view, strap_mm, phi), (looks(view, 0.0), parts))
    return None if band is None else band.drawn_in(parts)


@pytest.mark.parametrize("slant", SLANTS)
def test_a_faint_band_is_a_marker_where_the_photo_shows_a_ring(slant: float) -> None:
    view = frame(slant)
    alone = choose(looks(view, 0.25), Layout.FORK, None)
    assert alone.marker_row is None and not any("marker" in name for name in alone.rims)
    parts = found(slant, 0.25)
    assert parts is not None
    edges = choose(parts, Layout.FORK, None).targets
    near, end = (edges[name].rim.s_mm for name in edges if "marker" in name)
    # These networks see all of its width, real ones too little of it: here it comes out wider.
    assert [near, end] == pytest.approx([AT_MM - WIDTH_MM / 2, AT_MM + WIDTH_MM / 2], abs=0.7)


@pytest.mark.parametrize("slant", SLANTS)
def test_paint_that_ends_at_the_silhouettes_is_none(slant: float) -> None:
    assert found(slant, 0.25, strap_mm=0.0) is None


@pytest.mark.parametrize("phi", [(-1.6, 0.2), (-0.4, 1.6)])
def test_what_does_not_reach_round_the_shaft_is_none(phi: tuple[float, float]) -> None:
    assert found(0.0, 0.25, phi=phi) is None


def test_a_ring_that_no_network_sees_is_none() -> None:
    """Gland lips, bolts of a foot, and the light along a shoulder make rings that stand out."""
    assert found(0.0, 0.02) is None


def test_what_networks_see_without_a_ring_is_none() -> None:
    view = frame(0.0)
    assert find_faint_band(photo(view, STRAP_MM, (3.0, 3.2)), (looks(view, 0.25),)) is None


@pytest.mark.parametrize("slant", SLANTS)
def test_a_ring_is_clearest_where_it_is(slant: float) -> None:
    view = frame(slant)
    rings = ring_strength(photo(view, STRAP_MM), view, (-50.0, 60.0))
    assert rings is not None
    best = int(np.argmax(rings.on_shaft))
    # A strap stands 1.3 mm before the shaft, 0.4 mm elsewhere in a view so aslant; widths tried are 1 mm apart.
    assert rings.s_mm[best] == pytest.approx(AT_MM, abs=1.0)
    away = np.abs(rings.s_mm - AT_MM) > 8
    assert rings.on_shaft[best] > 3 * rings.on_shaft[away].max()

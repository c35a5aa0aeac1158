"""Silhouettes of soft photos: made edges of known place and blur, and a rendered photo blurred in code values."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from tests.helpers.special_photos import case
from vision.geometry.views import EDGE_COLUMNS, edge_view
from vision.request import detect_card
from vision.shaft import photo_lines
from vision.shaft.edges import OWN_SHARE, TILT_SHARE, whole_and_point_sd_px
from vision.shaft.fit import ShaftFit
from vision.shaft.photo_lines import (
    HALFWAY_SHARE,
    PhotoLine,
    line_of_silhouette,
    lines_along,
    share_of_line,
    with_soft_edges,
)
from vision.shaft_view import find_shaft_view

COLUMN_PX, ROWS = 0.5, 48


def to_code(light: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1, the tone curve of sRGB."""
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def to_light(code: float) -> float:
    return float(((code / 255 + 0.055) / 1.055) ** 2.4)


def step(at_px: float, blur_px: float) -> np.ndarray:
    """From 0 to 1, blurred, in the columns of an edge view."""
    x = COLUMN_PX * (np.arange(EDGE_COLUMNS) - 31.5) - at_px
    return np.array([0.5 * (1 + math.erf(one / (blur_px * math.sqrt(2)))) for one in x])


def as_view(code: np.ndarray) -> np.ndarray:
    return np.broadcast_to(np.rint(code)[None, :, None], (ROWS, EDGE_COLUMNS, 3)).astype(np.uint8)


def lines_of(code: np.ndarray) -> list[PhotoLine]:
    return lines_along(as_view(code), np.full(ROWS, 31.5), COLUMN_PX, 8.0)


@pytest.mark.parametrize(("at_px", "blur_px"), [(-2.3, 1.5), (0.0, 2.5), (3.1, 1.0)])
def test_an_edge_is_where_it_was_made(at_px: float, blur_px: float) -> None:
    (line,) = lines_of(30 + 170 * step(at_px, blur_px))
    assert line.offset_px == pytest.approx(at_px, abs=0.15)
    # Widened by the smoothing and by differences over two columns.
    assert line.width_px == pytest.approx(np.hypot(blur_px, 0.7), abs=0.25)
    assert line.support > 0.8


def test_blur_in_light_parts_both_places() -> None:
    """A dark tube before a light wall: the same edge, blurred before and after the tone curve."""
    dark, light = 30.0, 200.0
    after = dark + (light - dark) * step(0.0, 2.0)
    before = to_code(to_light(dark) + (to_light(light) - to_light(dark)) * step(0.0, 2.0))
    (as_code,), (as_light,) = lines_of(after), lines_of(before)
    assert as_code.offset_px == pytest.approx(0.0, abs=0.1)
    assert -2.0 < as_light.offset_px < -1.0


def test_noise_shows_no_line() -> None:
    noise = np.random.default_rng(18).normal(100, 3, (ROWS, EDGE_COLUMNS, 3)).clip(0, 255).astype(np.uint8)
    found = lines_along(noise, np.full(ROWS, 31.5), COLUMN_PX, 8.0)
    assert all(one.support < photo_lines.MIN_SUPPORT for one in found)


def line(offset_px: float, support: float, width_px: float = 2.0) -> PhotoLine:
    return PhotoLine(offset_px, width_px, support)


def test_the_line_at_the_silhouette_goes_before_a_clearer_one() -> None:
    assert line_of_silhouette([line(-5.0, 0.9), line(-1.0, 0.55)]) == line(-1.0, 0.55)


def test_of_lines_off_the_silhouette_the_only_clear_one_counts() -> None:
    assert line_of_silhouette([line(-5.0, 0.9), line(4.0, 0.3)]) == line(-5.0, 0.9)
    assert line_of_silhouette([line(-5.0, 0.9), line(4.0, 0.7)]) is None


def test_a_further_uncertainty_is_added_to_the_whole_edge() -> None:
    whole, point = whole_and_point_sd_px(3.0 * OWN_SHARE, 0.1, 4.0, 75)
    assert whole == pytest.approx(5.0 * OWN_SHARE)
    assert point == pytest.approx(TILT_SHARE * 5.0 * 5.0)


def fit_of(pixels: np.ndarray, monkeypatch: pytest.MonkeyPatch) -> tuple[ShaftFit, ShaftFit]:
    """Fit before and after the photo's own lines are weighed."""
    fits: list[ShaftFit] = []

    def both(fit: ShaftFit, *more: object) -> ShaftFit:
        fits.extend([fit, with_soft_edges(fit, *more)])  # type: ignore[arg-type]
        return fits[1]

    card = detect_card(pixels)
    monkeypatch.setattr("vision.shaft_view.with_soft_edges", both)
    find_shaft_view(pixels, case("plain").request, card)  # type: ignore[arg-type]
    return fits[0], fits[1]


def width_px(fit: ShaftFit) -> float:
    """Sum of both silhouettes' median distances from the axis of the sharp photo's shaft."""
    e, s = fit.observations, fit.solution
    off = [np.median(np.abs(s.cylinder.axis_distance_mm(s.camera.rays(p)))) for p in (e.left_px, e.right_px)]
    return float(sum(off)) * s.cylinder.px_per_mm(s.camera, 0.0)


def test_a_sharp_photo_keeps_the_networks_silhouettes(monkeypatch: pytest.MonkeyPatch) -> None:
    network, after = fit_of(case("plain").pixels, monkeypatch)
    assert after is network


def test_a_line_far_off_for_the_networks_uncertainty_is_another_one() -> None:
    """As 545 silhouettes of spoilt copies lie: none of the way to lines beyond 11, a fifth of it from 4 to 6."""
    away = [share_of_line(line(sign * px, 0.9), 0.5) for px in (0.0, 2.0, 2.75, 3.5, 9.0) for sign in (-1, 1)]
    assert away == pytest.approx([1.0, 1.0, 1.0, 1.0, 0.5, 0.5, 0.0, 0.0, 0.0, 0.0])


def shrunk(pixels: np.ndarray, factor: float) -> np.ndarray:
    """Make it smaller and enlarge it again, as pages and messengers do."""
    high, wide = pixels.shape[:2]
    small = cv2.resize(pixels, (round(wide / factor), round(high / factor)), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(small, (wide, high), interpolation=cv2.INTER_CUBIC))


def test_soft_copies_are_as_wide_as_the_sharp_photo(monkeypatch: pytest.MonkeyPatch) -> None:
    """Moved halfway to the reflections that the silhouettes of this photo have beside them they lose 0.8 to 1.3 px."""
    pixels = case("plain").pixels
    sharp, _ = fit_of(pixels, monkeypatch)
    for copy in (np.asarray(cv2.GaussianBlur(pixels, (0, 0), 1.8)), shrunk(pixels, 2.5), shrunk(pixels, 3.5)):
        network, after = fit_of(copy, monkeypatch)
        assert after is not network
        assert abs(width_px(after) - width_px(sharp)) < 0.6


def test_a_soft_photo_counts_both_places(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vision.shaft.photo_lines.share_of_line", lambda line, sd_px: 1.0)
    soft = np.asarray(cv2.GaussianBlur(case("plain").pixels, (0, 0), 1.8))
    network, after = fit_of(soft, monkeypatch)
    moved = [
        np.linalg.norm(a.mean(axis=0) - b.mean(axis=0))
        for a, b in (
            (network.observations.left_px, after.observations.left_px),
            (network.observations.right_px, after.observations.right_px),
        )
    ]
    for k, distance_px in enumerate(moved):
        before, now = network.observations.side_sd_px[k], after.observations.side_sd_px[k]
        # Halfway: as far as was moved there is still to go.
        further = np.hypot(before / OWN_SHARE, HALFWAY_SHARE * 2 * distance_px)
        assert now / OWN_SHARE == pytest.approx(further, rel=0.02)
    assert max(moved) > 0.2
    assert after.frame is network.frame
    sharp, _ = fit_of(case("plain").pixels, monkeypatch)
    true_px = width_px(sharp)
    assert abs(width_px(after) - true_px) < 2 * np.hypot(*after.observations.side_sd_px)


def test_a_vague_silhouette_of_a_sharp_photo_goes_half_the_way_to_the_edge_beside_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As d1042's was seen 2.8 px outside a clear edge; where the network is sure the edge is something else's."""
    pixels = case("plain").pixels
    network, _ = fit_of(pixels, monkeypatch)
    seen = network.observations
    away_px = (seen.left_px - seen.right_px.mean(axis=0)).mean(axis=0)
    away_px *= 3.0 / np.linalg.norm(away_px)

    def moved_px(sd_px: float) -> float:
        vague = replace(seen, left_px=seen.left_px + away_px, side_sd_px=(sd_px, seen.side_sd_px[1]))
        after = with_soft_edges(replace(network, observations=vague), pixels, 0.5).observations
        assert np.array_equal(after.right_px, seen.right_px)
        assert (after.side_sd_px[0] > sd_px) == (after.left_px is not vague.left_px)
        return float(np.linalg.norm((after.left_px - vague.left_px).mean(axis=0)))

    # The clearest line of this chrome limb lies 1.4 px inside its silhouette.
    assert moved_px(1.0) == pytest.approx(0.5 * (3.0 + 1.4), abs=0.2)
    assert moved_px(0.2) == 0.0


def test_a_fit_that_has_left_its_view_shows_no_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """All points lie before the view's first row, as a fit that ran away left them (d1071, compressed anew)."""
    network, _ = fit_of(case("plain").pixels, monkeypatch)
    assert network.frame is not None
    away = replace(network, frame=replace(network.frame, s0_mm=network.frame.s0_mm + 1000.0))
    assert with_soft_edges(away, case("plain").pixels, 2.0) is away


def test_a_silhouette_that_runs_into_the_distance_is_not_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """A point 1.2 m along the axis: no view is made of all that lies between (25 m took 21 GB)."""
    pixels = case("plain").pixels
    network, _ = fit_of(pixels, monkeypatch)
    left = network.observations.left_px.copy()
    left[-1] += 10 * (left[-1] - left[0])
    away = replace(network, observations=replace(network.observations, left_px=left))
    drawn: list[int] = []

    def view(*given: Any) -> np.ndarray:
        drawn.append(given[3][1] - given[3][0])
        return edge_view(*given)

    monkeypatch.setattr("vision.shaft.photo_lines.edge_view", view)
    with_soft_edges(away, pixels, 2.0)
    assert drawn and max(drawn) < 300

"""Curled cards: the bend is found from corners that OpenCV projects, and flat cards stay flat."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.integrate import quad

from calibration.card import corners_mm
from tests.helpers.made_observations import LENGTHS, gradient, made, true_mm
from tests.helpers.special_photos import case
from vision.adjustment.bend_mixture import CURLED, with_bend_prior
from vision.adjustment.card_bend import bent, bent_rates
from vision.adjustment.observations import CORNER_SD_PX, FLAT_BEND_SD_MM, Observations
from vision.adjustment.parameters import BEND, K1, LOGF, camera_of
from vision.adjustment.solve import solve


def rolled(bend_mm: float) -> np.ndarray:
    """Roll the card's corners onto a circular cylinder of the same sagitta: another shape than the model's.

    A sheet of length 2h round a cylinder of radius R stands h²/(2R) off its tangent, to second order.
    """
    flat: np.ndarray = np.c_[corners_mm(), np.zeros(26)]
    if bend_mm == 0:
        return flat
    radius = 84.0**2 / 2 / bend_mm
    angle = (flat[:, 1] - 84.0) / radius
    rolled_mm: np.ndarray = np.c_[
        flat[:, 0], 84.0 + radius * np.sin(angle), radius * (np.cos(angle) - 1) + bend_mm / 3
    ]
    return rolled_mm


def with_curled_card(seed: int, bend_mm: float) -> tuple[Observations, np.ndarray]:
    """Make a scene without noise, its corners projected by OpenCV from a rolled card."""
    scene = made(np.random.default_rng(seed), noise=0.0)
    e = scene.observations
    found = solve(scene.theta, e)
    camera = camera_of(found.theta, e)
    matrix = np.array([[camera.focal_px, 0, camera.cx_px], [0, camera.focal_px, camera.cy_px], [0, 0, 1]])
    seen, _ = cv2.projectPoints(
        rolled(bend_mm), found.theta[:3], found.theta[3:6], matrix, np.array([camera.k1, 0, 0, 0])
    )
    return replace(e, sighting=replace(e.sighting, corners_px=seen.reshape(-1, 2))), scene.theta


@pytest.mark.parametrize("bend_mm", [-2.0, 1.0, 3.0, 5.0])
def test_a_curled_card_is_solved_for(bend_mm: float) -> None:
    e, theta = with_curled_card(3, bend_mm)
    theta, widened = with_bend_prior(theta, e)
    assert widened.bend_sd_mm > 2 * FLAT_BEND_SD_MM
    found = solve(theta, widened)
    assert found.theta[BEND] == pytest.approx(bend_mm, abs=max(0.1 * abs(bend_mm), 0.2))
    values = np.array(list(found.rim_s_mm.values()))
    for length in LENGTHS:
        assert gradient(found, length) @ values == pytest.approx(true_mm(length), abs=0.15)


def test_a_curled_card_taken_for_flat_misleads() -> None:
    """What the bend is for: with the prior of a flat card the same corners move card, lens and shaft apart."""
    e, theta = with_curled_card(3, 5.0)
    flat, free = solve(theta, e), solve(*with_bend_prior(theta, e))
    assert flat.corner_rms_px > 3 * free.corner_rms_px
    assert abs(flat.theta[K1]) > 3 * abs(free.theta[K1])


def test_a_flat_card_keeps_its_prior() -> None:
    scene = made(np.random.default_rng(6))
    theta, e = with_bend_prior(scene.theta, scene.observations)
    assert e.bend_sd_mm < 1.5 * FLAT_BEND_SD_MM < CURLED.sd
    found = solve(theta, e)
    assert abs(found.theta[BEND]) < 3 * FLAT_BEND_SD_MM and abs(found.theta[LOGF]) < 0.1


@pytest.mark.parametrize("bend_mm", [-4.0, 0.0, 2.0, 5.0])
def test_paper_does_not_stretch(bend_mm: float) -> None:
    """Distances along the bent card, integrated by scipy over its own profile, are those of the flat one."""
    flat = np.array([[0.0, y, 0.0] for y in (0.0, 40.0, 84.0, 168.0)])
    on_card = bent(flat, bend_mm)
    for (_, a, _), (_, b, _), before, after in zip(on_card, on_card[1:], flat, flat[1:], strict=False):
        length, _ = quad(lambda y: np.hypot(1.0, 2 * bend_mm * (y - 84.0) / 84.0**2), a, b)
        assert length == pytest.approx(after[1] - before[1], abs=0.005)


def test_the_rate_is_that_of_a_numeric_difference() -> None:
    flat = np.c_[corners_mm(), np.zeros(26)]
    by_bend, by_y = bent_rates(flat, 2.0)
    along = np.array([0.0, 0.001, 0.0])
    np.testing.assert_allclose(by_bend, (bent(flat, 2.001) - bent(flat, 1.999)) / 0.002, atol=1e-9)
    np.testing.assert_allclose(by_y, (bent(flat + along, 2.0) - bent(flat - along, 2.0)) / 0.002, atol=1e-9)


def test_a_curled_card_is_said() -> None:
    assert any("curled" in remark for remark in case("curled-card").read().remarks)
    assert not any("curled" in remark for remark in case("plain").read().remarks)


@pytest.mark.parametrize("noise_px", [0.02, 0.08, 0.24])
def test_corners_that_scatter_say_as_much_less(noise_px: float) -> None:
    """Their standard uncertainty is what was planted, and never below that of clear photos (Birge 1932)."""
    found = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        scene = made(rng, noise=0.0)
        e = scene.observations
        px = e.sighting.corners_px + rng.normal(0, noise_px, e.sighting.corners_px.shape)
        e = replace(e, sighting=replace(e.sighting, corners_px=px))
        found.append(with_bend_prior(scene.theta, e)[1].corner_sd_px)
    # 52 residuals, of which 9 are fitted: one estimate is known to a ninth, the median of eight to 5 %.
    assert np.median(found) == pytest.approx(max(noise_px, CORNER_SD_PX), rel=0.15)
    assert min(found) >= CORNER_SD_PX

"""Shallow focus against the error function: an edge blurred by a Gaussian, NIST DLMF 7.2."""

from __future__ import annotations

import math

import numpy as np

from scenes.focus import Focus, draw_focus, soften

STEP_MM = (0.1, 0.5)


def test_an_edge_is_as_soft_as_its_distance_from_the_sharp_place_asks_for() -> None:
    rows, columns = 161, 200
    s_mm = STEP_MM[1] * np.arange(rows)
    light = np.zeros((rows, columns, 3), np.float32)
    light[:, columns // 2 :] = 1.0
    focus = Focus(sharp_s_mm=0.0, softer=0.01)
    soft = soften(light, s_mm, focus, STEP_MM)
    # Levels of blur are mixed between; at the levels themselves the edge is the error function.
    x_mm = STEP_MM[0] * (np.arange(columns) - columns // 2 + 0.5)
    sd_mm = 0.01 * s_mm[-1]
    expected = [0.5 + 0.5 * math.erf(x / (math.sqrt(2) * sd_mm)) for x in x_mm]
    assert np.abs(soft[-1, :, 0] - expected).max() < 0.02
    assert np.array_equal(soft[0], light[0])
    slope = np.abs(np.diff(soft[..., 0], axis=1)).max(axis=1)
    assert (np.diff(slope) < 1e-3).all()  # never sharper farther away


def test_light_is_neither_lost_nor_made() -> None:
    light = np.random.default_rng(3).uniform(0, 2, (64, 64, 3)).astype(np.float32)
    soft = soften(light, np.linspace(0, 60, 64), Focus(30.0, 0.02), (0.5, 1.0))
    assert abs(float(soft.mean()) / float(light.mean()) - 1) < 0.02


def test_the_worse_end_has_the_blur_that_was_drawn() -> None:
    drawn = [draw_focus(np.random.default_rng(seed), 120.0, 0.2) for seed in range(400)]
    there = [f for f in drawn if f]
    assert 0.18 < len(there) / len(drawn) < 0.32
    worst_px = [max(abs(f.sharp_s_mm), abs(120.0 - f.sharp_s_mm)) * f.softer / 0.2 for f in there]
    assert min(worst_px) > 0.59
    assert max(worst_px) < 4.01


def test_far_beyond_a_short_shaft_the_blur_is_no_wider_than_a_view_can_show() -> None:
    """Uncapped it would be 6,000 points wide there, and one scene took minutes; 40 points is what the edge shows."""
    rows, columns = 64, 400
    light = np.zeros((rows, columns, 3), np.float32)
    light[:, columns // 2 :] = 1.0
    soft = soften(light, np.linspace(0, 600, rows), Focus(0.0, 1.0), (0.1, 4.0))
    x = np.arange(columns) - columns // 2 + 0.5
    expected = [0.5 + 0.5 * math.erf(one / (math.sqrt(2) * 40)) for one in x]
    middle = slice(100, 300)  # farther out the view's border shows
    assert np.abs(soft[-1, middle, 0] - expected[middle]).max() < 0.02

"""Distances against densely sampled surfaces and closed formulas."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import ConvexHull, cKDTree

from scenes.random_scenes import draw
from scenes.scene import Part, Scene, as_float32
from scenes.shapes import box, capsule, far_block, part_distance, ring_zr, spring


def _cloud(rng: np.random.Generator, low: list[float], high: list[float], n: int = 4000) -> np.ndarray:
    return rng.uniform(low, high, (n, 3)).T


def test_spring_distance_is_that_to_a_sampled_centre_line() -> None:
    """Oracle: nearest of 200,000 points on the helix, by a k-d tree (scipy)."""
    scene = draw(0, "coil_over").scene
    mean, wire, pitch, low, turns, phase, hand = map(float, scene.spring)
    turn = np.linspace(0, turns, 200_000)
    angle = hand * (2 * np.pi * turn - phase)
    line = np.stack([mean * np.cos(angle), mean * np.sin(angle), low + pitch * turn], 1)
    rng = np.random.default_rng(1)
    # within the wire's reach, away from the closed end rings
    p = _cloud(
        rng, [-mean - wire, -mean - wire, low + pitch], [mean + wire, mean + wire, low + pitch * (turns - 1)]
    )
    r = np.hypot(p[0], p[1])
    p = p[:, np.abs(r - mean) < 1.5 * wire]
    want = cKDTree(line).query(p.T)[0] - wire
    got = spring(p, np.hypot(p[0], p[1]), scene, np)
    close = np.abs(want) < 0.5
    assert close.sum() > 50
    np.testing.assert_allclose(got[close], want[close], atol=0.06)
    assert (got - want).max() < 0.12 * wire  # hardly ever more than the truth, else rays would pass through


def test_rounded_box_touches_its_faces_and_rounds_its_corners() -> None:
    half, rounding = (10.0, 6.0, 4.0), 2.0
    at = np.array([[10.0, 0, 0], [0, 6.0, 0], [0, 0, 4.0], [10.0, 6.0, 4.0]]).T
    corner = 2.0 * np.sqrt(3) - 2.0  # the sharp corner lies this far outside a ball of 2 mm
    np.testing.assert_allclose(box(at[0], at[1], at[2], half, rounding, np), [0, 0, 0, corner], atol=1e-9)


def _milled(**fields: object) -> Scene:
    """Make a block of 40 x 24 x 30 mm from z = 100 mm on, with sharp edges except for its bevels."""
    block = {
        "far_centre": [0, 0, 115],
        "far_half": [20, 12, 15],
        "far_round": 1e-6,
        "far_turn": 0,
        "far_is_cylinder": 0,
        "far_bevel": [0, 0],
        "far_boss": 0,
    }
    return as_float32(draw(0, "fork").scene._replace(**{**block, **fields}))


@pytest.mark.parametrize("facets", [1, 2])
def test_bevels_take_off_what_a_convex_hull_leaves_out(facets: int) -> None:
    """Oracle: the hull (scipy, Qhull) of the points where facets and faces meet in the block's long edges."""
    width = 4.0
    scene = _milled(far_bevel=[width, facets])
    # Across the middle of the block, where only the bevels between its y faces and its ends count.
    turns = np.linspace(0, np.pi / 2, facets + 1)
    arc = np.stack([12 - width + width * np.cos(turns), 15 - width + width * np.sin(turns)], 1)
    corners = np.concatenate([arc * [sy, sz] for sy in (-1, 1) for sz in (-1, 1)])
    faces = ConvexHull(corners).equations
    rng = np.random.default_rng(4)
    y, z = rng.uniform(-16, 16, 4000), rng.uniform(-19, 19, 4000)
    want = (faces[:, :2] @ np.stack([y, z]) + faces[:, 2:]).max(axis=0)
    got = far_block(np.stack([0 * y, y, z + 115]), scene, np)
    np.testing.assert_allclose(got[want < 0], want[want < 0], atol=1e-4)
    assert (got[want > 1e-4] > 0).all()


def test_a_boss_stands_round_the_axis_as_high_as_its_block() -> None:
    """A block that stands back, y from 2 to 26 mm, and a boss of radius 22 mm: by hand."""
    scene = _milled(far_centre=[0, 14, 115], far_boss=22.0)
    at = np.array([[0, -22.0, 110], [0, -10, 100.0], [0, -30, 110], [20, 26, 115], [0, 0, 95]]).T
    np.testing.assert_allclose(far_block(at, scene, np), [0, 0, 8, 0, 5], atol=1e-4)


def test_capsule_and_ring_by_hand() -> None:
    p = np.array([[0.0, 3.0, 0.0], [0.0, 0.0, 14.0]]).T
    np.testing.assert_allclose(capsule(p, np.zeros(3), np.array([0, 0, 10.0]), 1.0, np), [2.0, 3.0])
    # sharp ring r <= 5, 0 <= z <= 8, seen diagonally from (8, 12): 3-4-5 triangle
    assert ring_zr(np.array([8.0]), np.array([12.0]), (0.0, 8.0, 5.0, 0.0), np)[0] == pytest.approx(5.0)


@pytest.mark.parametrize("layout", ["fork", "coil_over", "bare_shock"])
def test_no_distance_grows_faster_than_the_point_moves(layout: str) -> None:
    """A signed distance has slope at most 1; the tracer's step of 0.9 forgives slopes up to 1.11."""
    rng = np.random.default_rng(5)
    for seed in range(6):
        scene = draw(seed, layout).scene
        p = _cloud(rng, [-90, -90, -100], [90, 90, 250], 3000)
        step = rng.normal(size=p.shape)
        step *= 0.05 / np.linalg.norm(step, axis=0)
        q = p + step
        for part in range(Part.WALL):
            if scene.on[part] < 0.5 or part == Part.SPRING:  # the helix jumps between turns: tested above
                continue
            a = part_distance(part, p, np.hypot(p[0], p[1]), scene, np)
            b = part_distance(part, q, np.hypot(q[0], q[1]), scene, np)
            slope = np.abs(b - a) / 0.05
            assert slope.max() < 1.2, Part(part).name


def test_the_marker_begins_and_the_bumper_ends_where_the_scene_says() -> None:
    scene = draw(3, "bare_shock").scene
    scene = as_float32(scene._replace(marker=np.array([12.0, 3.6, 1.2, 0, 0, 0])))
    r = np.array([float(scene.radius) + 0.6])
    for part, s in ((Part.MARKER, 12.0), (Part.BUMPER, float(scene.exposed))):
        r_part = r if part == Part.MARKER else np.array([0.5 * float(scene.radius + scene.bumper[2])])
        p = np.array([r_part, [0.0], [s]])
        assert part_distance(part, p, r_part, scene, np)[0] == pytest.approx(0.0, abs=2e-3)
        assert part_distance(part, p - np.array([[0], [0], [0.3]]), r_part, scene, np)[0] > 0.25


@pytest.mark.parametrize("gap_mm", [0.0, 0.6])
def test_a_lip_that_stands_off_leaves_room_round_the_shaft(gap_mm: float) -> None:
    """Solid of revolution: inside the gap a point is outside the lip by its distance from the bore."""
    scene = as_float32(draw(3).scene._replace(lip=np.array([3.0, 23.0, 24.0, 0.2]), lip_gap=np.array(gap_mm)))
    scene = as_float32(scene._replace(radius=np.array(20.0)))
    r, z = np.array([20.1, 20.3, 20.5, 21.5]), np.full(4, -1.5)
    found = part_distance(Part.LIP, np.stack([r, np.zeros(4), z]), r, scene, np)
    in_gap = r < 20.0 + gap_mm
    assert in_gap.sum() == (3 if gap_mm else 0)
    np.testing.assert_allclose(found[in_gap], 20.0 + gap_mm - r[in_gap], atol=1e-4)
    assert (found[~in_gap] < 0).all()

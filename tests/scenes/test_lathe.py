"""The second renderer against closed formulas, against the first one's sphere tracer, and its scenes' own promises."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scenes import lathe, photo_bank, rectified
from scenes.lathe_builder import Builder
from scenes.lathe_scenes import draw_lathe
from scenes.random_scenes import draw
from scenes.scene import Part
from scenes.tracing import March, trace

PHOTOS = 6
EYE_MM = np.array([60.0, -300.0, 90.0], np.float32)


@pytest.fixture(scope="module")
def bank() -> list[np.ndarray]:
    return photo_bank.made_up(PHOTOS)


def scene_with(b: Builder) -> Any:
    """Draw a scene whose solids are those of a builder instead."""
    base: Any = draw_lathe(3, PHOTOS).scene
    fields = {name: np.asarray(v, np.float32) for name, v in b.arrays().items()}
    return base._replace(**fields, spring=np.array([1, 1, 20, 0, 0, 0, 1], np.float32))


def rays_to(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Origins and unit directions (3, N) from `EYE_MM` through points (N, 3)."""
    d = points - EYE_MM
    d = (d / np.linalg.norm(d, axis=1)[:, None]).astype(np.float32)
    return np.repeat(EYE_MM[:, None], len(d), axis=1), d.T


def cut_by(scene: Any) -> np.ndarray:
    """Return the planes (4, 4) beyond which a scene has no photograph."""
    return np.asarray(scene.frame)


def scattered(count: int = 4000) -> np.ndarray:
    rng = np.random.default_rng(5)
    return np.stack(
        [rng.uniform(-45, 45, count), rng.uniform(-20, 20, count), rng.uniform(-40, 160, count)], 1
    )


def test_a_cylinder_is_met_where_the_closed_formula_says() -> None:
    b = Builder()
    b.stack(0.0, 1.0, 20.0, [(120.0, 20.0, 20.0, 0)], Part.SHAFT, end_r=20.0)
    scene = scene_with(b)._replace(radius=np.float32(20.0), exposed=np.float32(120.0))
    o, d = rays_to(scattered())
    t, which = lathe.meet(scene, o, d, np)
    meets, t_true, _ = rectified.shaft_interval(scene, EYE_MM, d.T)
    front = meets & (which >= 0) & (t < t_true + 5)  # others see the far wall through the open end
    assert front.sum() > 800
    assert np.abs(t - t_true)[front].max() < 0.01
    assert (which >= 0)[meets].all()


def test_cones_faces_and_slanted_ends_lie_on_their_surfaces() -> None:
    b = Builder()
    slope = (0.1, -0.05)
    b.stack(10.0, 1.0, 8.0, [(30.0, 12.0, 26.0, 0)], Part.FAR, (3.0, 4.0), slope)
    scene = scene_with(b)
    o, d = rays_to(scattered())
    t, which = lathe.meet(scene, o, d, np)
    hit = which >= 0
    p = (o + t * d)[:, hit].astype(float)
    x, y = p[0] - 3.0, p[1] - 4.0
    z = p[2] - slope[0] * x - slope[1] * y
    r = np.hypot(x, y)
    off_cone = np.abs(r - (12.0 + 14.0 * (z - 10.0) / 30.0))
    off_faces = np.minimum(np.abs(z - 10.0), np.abs(z - 40.0))
    assert hit.sum() > 200
    assert np.minimum(off_cone, off_faces).max() < 0.01


def test_boxes_and_rods_lie_on_their_surfaces() -> None:
    b = Builder()
    b.box([10.0, 0.0, 40.0], np.eye(3), [12.0, 9.0, 25.0], Part.BOX_A, 0)
    a, e, radius = np.array([-30.0, 5.0, 0.0]), np.array([-10.0, -8.0, 120.0]), 6.0
    b.rod(a, e, radius, Part.ROD_A, 0)
    o, d = rays_to(scattered())
    t, which = lathe.meet(scene_with(b), o, d, np)
    p = (o + t * d).T.astype(float)
    box = which == lathe.N_FRUSTA + lathe.N_FACES
    rod = which == lathe.N_FRUSTA + lathe.N_FACES + lathe.N_BOXES
    outside = np.abs(p[box] - [10.0, 0.0, 40.0]) - [12.0, 9.0, 25.0]
    assert box.sum() > 200
    assert rod.sum() > 200
    assert np.abs(outside.max(axis=1)).max() < 0.01
    along = np.clip((p[rod] - a) @ (e - a) / ((e - a) @ (e - a)), 0, 1)
    assert np.abs(np.linalg.norm(p[rod] - a - along[:, None] * (e - a), axis=1) - radius).max() < 0.01


def test_both_renderers_meet_the_same_shaft_at_the_same_place() -> None:
    """The first renderer traces signed distances in steps; the second solves quadratics."""
    first = draw(11).scene
    on = np.zeros_like(first.on)
    on[Part.SHAFT] = 1.0
    first = first._replace(on=on, shaft_z=np.array([0.0, 120.0], np.float32), radius=np.float32(17.5))
    b = Builder()
    b.stack(0.0, 1.0, 0.0, [(120.0, 17.5, 17.5, 0)], Part.SHAFT)
    o, d = rays_to(scattered())
    t_first, hit, _ = trace(first, o, d, np.full(o.shape[1], 900.0, np.float32), np, March(200))
    t_second, which = lathe.meet(scene_with(b), o, d, np)
    assert np.mean(hit == (which >= 0)) > 0.999
    both = hit & (which >= 0)
    assert both.sum() > 500
    assert np.quantile(np.abs(t_first - t_second)[both], 0.98) < 0.02  # but for rays that graze


def test_the_same_seed_gives_the_same_scene() -> None:
    one, other = draw_lathe(7, PHOTOS), draw_lathe(7, PHOTOS)
    assert all(np.array_equal(a, b) for a, b in zip(one.scene, other.scene, strict=True))
    assert one.declared_diameter_mm == other.declared_diameter_mm


def test_scenes_are_what_their_truth_says(bank: list[np.ndarray]) -> None:
    """Along the shaft's front line bare shaft or what the scene puts there is seen; before s = 0 no bare shaft is."""
    bare = seals = 0
    for seed in range(12):
        drawn = draw_lathe(seed, PHOTOS)
        scene: Any = drawn.scene
        eye = np.asarray(drawn.eye_mm)
        out = np.array([eye[0], eye[1]]) / np.hypot(eye[0], eye[1]) * scene.radius
        z = np.linspace(-6.0, float(scene.exposed) - 0.5, 80)
        points = np.stack([np.full(80, out[0]), np.full(80, out[1]), z], 1)
        d = rectified.rays(points, eye).astype(np.float32)
        colour, part, _ = lathe.look(scene, eye, d, np, bank)
        assert np.isfinite(colour).all()
        assert not (part[z < -0.5] == Part.SHAFT).any()
        bare += int((part[z > 0.5] == Part.SHAFT).sum())
        seals += int((part[z < -0.5] == Part.TUBE).sum())
    assert bare > 250
    assert seals > 15


def test_an_end_that_the_frame_cuts_off_is_black(bank: list[np.ndarray]) -> None:
    seen = ((draw_lathe(seed, PHOTOS).scene, draw_lathe(seed, PHOTOS).eye_mm) for seed in range(60))
    scene: Any
    scene, eye = next((s, e) for s, e in seen if np.abs(cut_by(s)[0, :3]).any())
    points = rectified.finder_points(scene)[::6, ::6].reshape(-1, 3)
    d = rectified.rays(points, eye).astype(np.float32)
    colour, part, _ = lathe.look(scene, eye, d, np, bank)
    outside = d @ scene.frame[0, :3] > scene.frame[0, 3]
    assert outside.any()
    assert (colour[outside] == 0).all()
    assert (part[outside] == Part.SKY).all()
    assert (colour[~outside] > 0).any()


def test_a_rim_mirrors_what_stands_behind_it(bank: list[np.ndarray]) -> None:
    """At grazing incidence a mirror's ray leaves as it came: what it shows is what stands beside it in the picture."""
    scene: Any = draw_lathe(3, PHOTOS).scene
    dark = np.array([0, 0, 1, -2, 0.1, 1], np.float32)
    scene = scene._replace(lamp_rgb=np.zeros_like(scene.lamp_rgb), env_dark=dark)
    across = np.linspace(-0.3, 0.3, 200)
    d = np.stack([across, np.sqrt(1 - across**2), 0 * across]).astype(np.float32)
    seen = lathe.radiance(scene._replace(behind=np.float32(1)), d, np.zeros(200, np.float32), bank, np)
    behind = lathe._background(scene, d, bank, np)
    assert np.abs(seen - behind).max() < 1e-5
    apart = lathe.radiance(scene._replace(behind=np.float32(0)), d, np.zeros(200, np.float32), bank, np)
    assert np.abs(apart - behind).mean() > 0.01

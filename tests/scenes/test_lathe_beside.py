"""What stands about the second renderer's shafts: it is where it says, and it is never taken for the shaft."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenes import lathe, photo_bank, rectified
from scenes.lathe_beside import fingers, lumps
from scenes.lathe_builder import Builder
from scenes.lathe_scenes import draw_lathe
from scenes.scene import Material, Part

RADIUS_MM, EXPOSED_MM = 20.0, 120.0
EYE_MM = np.array([0.0, -400.0, 60.0], np.float32)


def first_with_rods(put: Any) -> Builder:
    """Draw until something is put."""
    for seed in range(200):
        b = Builder()
        b.material(lathe.Look())
        b.stack(0.0, 1.0, RADIUS_MM, [(EXPOSED_MM, RADIUS_MM, RADIUS_MM, 0)], Part.SHAFT, end_r=RADIUS_MM)
        put(b, np.random.default_rng(seed))
        if b.rods:
            return b
    raise AssertionError("nothing was put in 200 draws")


def labels_along(b: Builder, points: np.ndarray) -> np.ndarray:
    """Classes (N,) that the view along the shaft gives points (N, 3) seen from `EYE_MM`."""
    base: Any = draw_lathe(3, 6).scene
    fields = {name: np.asarray(v, np.float32) for name, v in b.arrays().items()}
    none = np.array([1, 1, 20, 0, 0, 0, 1], np.float32)
    scene = base._replace(
        **fields,
        spring=none,
        radius=np.float32(RADIUS_MM),
        exposed=np.float32(EXPOSED_MM),
        frame=np.tile([0.0, 0.0, 0.0, 1.0], (4, 1)),
    )
    d = rectified.rays(points, EYE_MM).astype(np.float32)
    _, part, t = lathe.look(scene, EYE_MM, d, np, photo_bank.made_up(6))
    return np.asarray(rectified.reader_labels(scene, EYE_MM, d, part, t, np))


def test_a_lump_on_the_shaft_is_something_in_front_and_the_shaft_beside_it_is_shaft() -> None:
    b = first_with_rods(lambda b, rng: lumps(b, rng, RADIUS_MM, EXPOSED_MM))
    lump = np.array([(np.asarray(a) + e) / 2 for a, e, *_ in b.rods])
    assert np.allclose(np.hypot(lump[:, 0], lump[:, 1]), RADIUS_MM, atol=1e-6)
    assert (lump[:, 1] <= 0).all()  # on the side that is seen
    seen = lump[(np.abs(lump[:, 0]) < 0.8 * RADIUS_MM) & (lump[:, 2] > 0) & (lump[:, 2] < EXPOSED_MM)]
    assert len(seen)
    assert (labels_along(b, seen) == Material.OCCLUDER).all()
    clear = np.array([[0.0, -RADIUS_MM, z] for z in np.linspace(2, 118, 59)])
    far = np.array([np.linalg.norm(lump - p, axis=1).min() > 6 for p in clear])
    assert far.sum() > 10
    assert (labels_along(b, clear[far]) == Material.SHAFT).all()


def test_fingers_stand_between_the_viewer_and_the_card() -> None:
    b = first_with_rods(lambda b, rng: fingers(b, rng, RADIUS_MM, EXPOSED_MM, 60.0))
    assert all(part == Part.FINGER for *_, part, _ in b.rods)
    tips = np.array([a for a, *_ in b.rods])
    assert (tips[:, 1] < -5).all()


def test_views_of_long_shafts_show_either_end() -> None:
    """Half of them the seal, half the far end, with what is beyond it: the view's own length is 256 mm."""
    low = high = 0
    for seed in range(400):
        drawn = draw_lathe(seed, 6)
        exposed = float(drawn.scene.exposed)
        if exposed <= rectified.LONG_SHAFT_MM:
            continue
        middle = rectified.jittered_axis(drawn, np.random.default_rng([seed, 1])).middle_s_mm
        assert -1e-6 <= middle <= exposed + 1e-6
        low += middle < 118
        high += middle > exposed - 118
    assert low > 5
    assert high > 5

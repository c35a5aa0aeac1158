"""Ends of the trade, cards laid backwards and slanted far ends of the second renderer, against plane geometry."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scenes import lathe, rectified
from scenes.camera import card_corners_mm
from scenes.lathe_builder import Builder
from scenes.lathe_parts import FAR_LIKES, SEAL_LIKES, TRADE, World, end
from scenes.lathe_scenes import draw_lathe
from scenes.lathe_trade import TRADE_ENDS
from scenes.scene import CLASS_OF_PART, Part

RADIUS_MM = 20.0


def with_end(kind: str, seed: int, way: float) -> Any:
    """Scene of a shaft from 0 to 100 mm and one such end, at z = 0 or at 100, nothing else."""
    b = Builder()
    b.material(lathe.Look())
    b.stack(0.0, 1.0, RADIUS_MM, [(100.0, RADIUS_MM, RADIUS_MM, 0)], Part.SHAFT, end_r=RADIUS_MM)
    z, part = (100.0, Part.FAR) if way > 0 else (0.0, Part.TUBE)
    end(b, np.random.default_rng(seed), RADIUS_MM, z, way, part, {}, world=World({kind: 1.0}, 0.3, 1.3))
    base: Any = draw_lathe(3, 6).scene
    fields = {name: np.asarray(v, np.float32) for name, v in b.arrays().items()}
    return base._replace(
        **fields, spring=np.array([1, 1, 20, 0, 0, 0, 1], np.float32), exposed=np.float32(100.0)
    )


def parts_along(scene: Any, z: np.ndarray) -> np.ndarray:
    """Parts that square rays meet on the shaft's front line."""
    o = np.stack([np.zeros_like(z), np.full_like(z, -400.0), z]).astype(np.float32)
    d = np.repeat(np.array([[0.0], [1.0], [0.0]], np.float32), len(z), axis=1)
    _, which = lathe.meet(scene, o, d, np)
    solids = [scene.frusta[:, 8], scene.faces[:, 7], scene.box_is[:, 0], scene.rod_is[:, 0]]
    return np.where(which < 0, -1, np.concatenate(solids)[np.maximum(which, 0)])


@pytest.mark.parametrize("kind", TRADE_ENDS)
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_bare_shaft_ends_where_the_end_begins(kind: str, way: float) -> None:
    for seed in range(12):
        scene = with_end(kind, seed, way)
        beyond = np.linspace(0.2, 12, 30)
        z = 100.0 + beyond if way > 0 else -beyond
        assert (parts_along(scene, z) == (Part.FAR if way > 0 else Part.TUBE)).all()
        # no wider than the shaft before it: a rolled bead bulges towards the bare shaft by a few mm at the most
        assert (parts_along(scene, np.linspace(6.0, 94.0, 30)) == Part.SHAFT).all()


def test_feet_are_hardly_wider_than_the_shaft() -> None:
    """1.07 to 1.4 shaft widths within 5 mm of where they begin: what was taken for seals and for shaft."""
    for seed in range(20):
        scene = with_end("foot", seed, 1.0)
        x = np.linspace(0.9, 1.6, 200) * RADIUS_MM
        o = np.stack([x, np.full_like(x, -400.0), np.full_like(x, 104.0)]).astype(np.float32)
        d = np.repeat(np.array([[0.0], [1.0], [0.0]], np.float32), len(x), axis=1)
        boxless = scene._replace(box_half=np.full_like(scene.box_half, -1.0))
        _, which = lathe.meet(boxless, o, d, np)
        turned = (which >= 0) & (which < lathe.N_FRUSTA)
        assert 1.06 * RADIUS_MM < x[turned].max() < 1.45 * RADIUS_MM


def test_the_pool_draws_what_it_drew() -> None:
    """Seeds of the scenes that networks were trained on before keep their meaning: figures of d212a6c."""
    drawn = draw_lathe(7, 6)
    assert drawn.declared_diameter_mm == 9.49
    scene: Any = drawn.scene
    assert float(np.abs(scene.materials.astype(float)).sum()) == pytest.approx(642.1345118968748)


def test_the_trade_has_more_of_its_ends() -> None:
    likes = [sum(TRADE.kinds[k] * likes.get(k, 1.0) for k in TRADE_ENDS) for likes in (SEAL_LIKES, FAR_LIKES)]
    whole = [sum(w * likes.get(k, 1.0) for k, w in TRADE.kinds.items()) for likes in (SEAL_LIKES, FAR_LIKES)]
    assert 0.3 < likes[0] / whole[0] < 0.6
    assert 0.3 < likes[1] / whole[1] < 0.6


def test_a_card_laid_backwards_covers_the_same_place_and_points_the_other_way() -> None:
    scene: Any = draw_lathe(5, 6).scene
    turned = rectified.card_backwards(scene)
    here, there = card_corners_mm(scene), card_corners_mm(turned)
    np.testing.assert_allclose(here.mean(axis=0), there.mean(axis=0), atol=1e-3)
    np.testing.assert_allclose(here - here.mean(axis=0), -(there - there.mean(axis=0)), atol=1e-3)
    assert turned.card_rot[2, 1] == -scene.card_rot[2, 1]  # towards the far end, and away from it
    np.testing.assert_allclose(turned.card_rot @ turned.card_rot.T, np.eye(3), atol=1e-5)
    assert np.linalg.det(turned.card_rot) > 0


def test_rims_of_slanted_far_ends_are_labelled_where_they_are_seen() -> None:
    b = Builder()
    slope = (0.12, 0.2)  # its near side lies nearer to the seal
    b.material(lathe.Look())
    b.stack(0.0, 1.0, RADIUS_MM, [(100.0, RADIUS_MM, RADIUS_MM, 0)], Part.SHAFT, end_r=RADIUS_MM)
    b.stack(100.0, 1.0, RADIUS_MM, [(40.0, 30.0, 30.0, 0)], Part.FAR, slope=slope)
    base: Any = draw_lathe(3, 6).scene
    fields = {name: np.asarray(v, np.float32) for name, v in b.arrays().items()}
    scene = base._replace(
        **fields, spring=np.array([1, 1, 20, 0, 0, 0, 1], np.float32), radius=np.float32(RADIUS_MM),
        exposed=np.float32(100.0), far_slope=np.array(slope, np.float32), cls=CLASS_OF_PART.astype(np.float32),
    )  # fmt: skip
    eye = np.array([40.0, -400.0, 20.0])
    axis = rectified.Axis(np.zeros(3), np.array([0.0, 0.0, 1.0]), RADIUS_MM, 50.0)
    frame = rectified.reader_frame(axis, eye)
    points, _, _ = rectified.rim_points(*frame, np.array([-50.0, 0.0, 10.0, 50.0]), eye)
    d = rectified.rays(points, eye).astype(np.float32)
    o = np.repeat(eye.astype(np.float32)[:, None], len(d), axis=1)
    _, which = lathe.meet(scene, o, d.T, np)
    part = scene.frusta[np.clip(which, 0, lathe.N_FRUSTA - 1), 8]
    bare = (part == Part.SHAFT) & (which >= 0) & (which < lathe.N_FRUSTA)
    cls = np.where(bare, 1, 4)
    label = rectified.rim_labels(scene, eye, d, cls).reshape(4, -1)[3]
    seen = bare.reshape(4, -1)[3]
    # the clamp's near edge may hide a little of the shaft
    assert ((label & 1) == seen).mean() > 0.97
    square = scene._replace(far_slope=np.zeros(2, np.float32))
    off = rectified.rim_labels(square, eye, d, cls).reshape(4, -1)[3]
    assert ((off & 1) == seen).mean() < 0.9

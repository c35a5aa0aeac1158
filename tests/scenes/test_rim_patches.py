"""Patches round the rims, and edge views, against plane geometry."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.random_scenes import Drawn, draw
from scenes.rectified import (
    EDGE_SHAPE,
    FINE_COLUMN_PX,
    FINE_LEAST_REACH_MM,
    RIM_MM_PER_ROW,
    RIM_SHAPE,
    RIM_U,
    Axis,
    edge_points,
    fine_reach,
    rays,
    reader_frame,
    rim_labels,
    rim_points,
)
from scenes.scene import Material


def _frame(drawn: Drawn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Of the true axis, its middle row at s = 50 mm."""
    axis = Axis(np.zeros(3), np.array([0.0, 0.0, 1.0]), float(drawn.scene.radius), 50.0)
    return reader_frame(axis, np.asarray(drawn.eye_mm, float))


def _rims_mm(drawn: Drawn) -> np.ndarray:
    edge, width = drawn.scene.marker[:2]
    return np.array([0.0, edge, edge + width, drawn.scene.exposed], float)


@pytest.mark.parametrize("seed", [3, 8, 21])
def test_patches_lie_on_the_shaft_the_bare_shaft_last(seed: int) -> None:
    drawn = draw(seed)
    frame, true = _frame(drawn), _rims_mm(drawn)
    points, _, _ = rim_points(*frame, true - 50.0, np.asarray(drawn.eye_mm, float))
    np.testing.assert_allclose(np.hypot(points[..., 0], points[..., 1]), float(drawn.scene.radius), rtol=1e-5)
    for patch, s, down_mm in zip(points, true, (0.08, -0.08, 0.08, -0.16), strict=True):
        rows = (patch[..., 2] - s) / down_mm
        want = np.arange(RIM_SHAPE[0]) - 0.5 * (RIM_SHAPE[0] - 1)
        np.testing.assert_allclose(rows, np.repeat(want[:, None], RIM_SHAPE[1], axis=1), atol=1e-3)
    # Across: from the eye's left to its right or the other way, evenly, on the side that faces the eye.
    to_eye = np.asarray(drawn.eye_mm, float)[:2] / np.linalg.norm(drawn.eye_mm[:2])
    facing = points[0, 0, :, :2] @ to_eye / float(drawn.scene.radius)
    u = RIM_U * (2 * (np.arange(RIM_SHAPE[1]) + 0.5) / RIM_SHAPE[1] - 1)
    np.testing.assert_allclose(facing, np.sqrt(1 - u**2), atol=1e-5)


@pytest.mark.parametrize("seed", [3, 8, 21])
def test_labels_change_where_the_rims_planes_are(seed: int) -> None:
    """The marker's, which may be tilted, in the mean over the columns: a tilt adds a sine."""
    drawn = draw(seed)
    eye = np.asarray(drawn.eye_mm, float)
    points, right, down = rim_points(*_frame(drawn), _rims_mm(drawn) - 50.0, eye)
    assert right.shape[-1] == down.shape[-1] == 3
    d = rays(points, eye)
    cls = np.full(len(d), int(Material.SHAFT))
    label = rim_labels(drawn.scene, eye, d, cls).reshape(4, *RIM_SHAPE)
    assert (label >> 2 == 1).all() and ((label >> 1) & 1 == 0).all()
    assert (label[:, 0] & 1 == 0).all() and (label[:, -1] & 1 == 1).all()
    before = (1 - (label & 1)).sum(axis=1)
    np.testing.assert_allclose(before[[0, 3]], RIM_SHAPE[0] / 2, atol=1)
    tilt = np.hypot(*drawn.scene.marker[3:5]) * float(drawn.scene.radius) / RIM_MM_PER_ROW[1]
    assert np.abs(before[[1, 2]] - RIM_SHAPE[0] / 2).max() <= tilt + 1


@pytest.mark.parametrize(("px_mm", "radius_mm"), [(0.13, 20.5), (0.07, 20.5), (0.2, 6.0)])
def test_fine_columns_are_half_a_pixel_where_that_says_anything(px_mm: float, radius_mm: float) -> None:
    reach = fine_reach(px_mm, radius_mm)
    column_px = 2 * reach * radius_mm / EDGE_SHAPE[1] / px_mm
    if reach == 0.3:
        assert column_px < FINE_COLUMN_PX
    else:
        at_least = column_px == pytest.approx(FINE_COLUMN_PX) or column_px > FINE_COLUMN_PX
        assert at_least and reach * radius_mm >= FINE_LEAST_REACH_MM
        assert column_px == pytest.approx(FINE_COLUMN_PX) or reach * radius_mm == pytest.approx(
            FINE_LEAST_REACH_MM
        )


def test_edge_views_reach_as_far_as_asked() -> None:
    drawn = draw(3)
    points = edge_points(*_frame(drawn), np, 0.1)
    off = np.hypot(points[..., 0], points[..., 1]) / float(drawn.scene.radius)
    column = 2 * 0.1 / EDGE_SHAPE[1]
    np.testing.assert_allclose(off[:, :, 0], 0.9 + column / 2, atol=1e-5)
    np.testing.assert_allclose(off[:, :, -1], 1.1 - column / 2, atol=1e-5)

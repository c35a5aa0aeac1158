"""Turning pictures, and points and cameras with them, against numpy's ``rot90`` and Pillow's ``exif_transpose``."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageOps

from calibration.camera import Camera
from calibration.upright import (
    mirrored_and_turns,
    turned,
    turned_axes,
    turned_px,
    turned_size,
    unmirrored,
)

SIZE = (7, 4)  # width, height


@pytest.mark.parametrize("orientation", range(1, 9))
def test_what_orientation_asks_for_is_what_pillow_does(orientation: int) -> None:
    stored = Image.fromarray(np.random.default_rng(1).integers(0, 256, (4, 7, 3), np.uint8))
    exif = stored.getexif()
    exif[0x0112] = orientation
    mirrored, turns = mirrored_and_turns(orientation)
    ours = turned(unmirrored(np.asarray(stored), mirrored), turns)
    np.testing.assert_array_equal(ours, np.asarray(ImageOps.exif_transpose(stored)))


def test_an_orientation_that_is_none_turns_nothing() -> None:
    assert mirrored_and_turns(0) == mirrored_and_turns(9) == (False, 0)


@pytest.mark.parametrize("turns", range(-3, 5))
def test_points_go_where_their_pixels_go(turns: int) -> None:
    width, height = SIZE
    numbered = np.arange(width * height, dtype=np.uint8).reshape(height, width)
    after = np.rot90(numbered, -turns)  # numpy turns counter-clockwise
    np.testing.assert_array_equal(turned(numbered, turns), after)
    assert turned_size(SIZE, turns) == after.shape[::-1]
    y, x = np.mgrid[:height, :width]
    there = turned_px(np.stack([x, y], axis=-1), turns, SIZE)
    np.testing.assert_array_equal(after[there[..., 1], there[..., 0]], numbered)


@pytest.mark.parametrize("turns", range(4))
def test_a_turned_camera_sees_points_where_the_turned_picture_has_them(turns: int) -> None:
    points_cam = np.random.default_rng(2).normal(0, 60, (9, 3)) + np.array([0.0, 0.0, 400.0])
    size = (4000, 3000)
    seen = Camera.centred(3000.0, *size).project(points_cam)
    again = Camera.centred(3000.0, *turned_size(size, turns)).project(points_cam @ turned_axes(turns).T)
    np.testing.assert_allclose(again, turned_px(seen, turns, size), atol=1e-9)

"""A photo's brightness in parts, against OpenCV's conversion and reduction of the whole."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.grey import Grey


@pytest.fixture(scope="module")
def pixels() -> np.ndarray:
    """Make a soft picture: nothing changes within a pixel or two."""
    y, x = np.mgrid[0:403, 0:601].astype(float)
    waves = [128 + 90 * np.sin(x / a + y / b) for a, b in ((31, 47), (53, -29), (-41, 23))]
    return np.asarray(np.rint(np.stack(waves, axis=-1)), np.uint8)


def test_a_part_is_cut_out_of_the_whole_and_says_where(pixels: np.ndarray) -> None:
    whole = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    photo = Grey(pixels)
    part, origin = photo.part(np.array([-5.2, 30.7]), np.array([70.1, 900.0]))
    assert origin.tolist() == [0, 30]
    np.testing.assert_array_equal(part, whole[30:, :71])
    np.testing.assert_array_equal(photo.whole, whole)


@pytest.mark.parametrize("times", [1, 3, 4, 5, 7])
def test_the_coarse_picture_is_the_mean_of_its_pixels(pixels: np.ndarray, times: int) -> None:
    """From four rows a step on only two of them are averaged: in a soft picture half a row's slope is left."""
    whole = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    rows, columns = whole.shape[0] // times, whole.shape[1] // times
    mean = whole[: rows * times, : columns * times].reshape(rows, times, columns, times).mean(axis=(1, 3))
    coarse = Grey(pixels).coarse(times)
    assert coarse.shape == mean.shape
    off = coarse - mean
    assert np.abs(off).max() <= (0.5 if times < 4 else 4.0)
    assert abs(off.mean()) < 0.3

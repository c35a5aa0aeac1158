"""The camera model against OpenCV's, and there and back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from calibration.camera import Camera

# A phone's main camera: 26 mm equivalent on 4032 x 3024 px (half the diagonal of 35 mm film is 21.6 mm).
WIDTH, HEIGHT, FOCAL = 4032, 3024, 3029.0


def matrix(camera: Camera) -> np.ndarray:
    return np.array([[camera.focal_px, 0, camera.cx_px], [0, camera.focal_px, camera.cy_px], [0, 0, 1]])


@pytest.mark.parametrize("k1", [-0.05, 0.0, 0.013, 0.05])
def test_project_as_opencv(k1: float) -> None:
    # Source: cv2.projectPoints.
    camera = Camera(FOCAL, 2010.3, 1515.8, k1)
    points = np.random.default_rng(3).uniform((-200, -150, 250), (200, 150, 900), (200, 3))
    theirs, _ = cv2.projectPoints(
        points, np.zeros(3), np.zeros(3), matrix(camera), np.array([k1, 0, 0, 0, 0])
    )
    np.testing.assert_allclose(camera.project(points), theirs.reshape(-1, 2), atol=1e-8)


@pytest.mark.parametrize("k1", [-0.04, 0.0, 0.04])
def test_rays_as_opencv(k1: float) -> None:
    # Source: cv2.undistortPoints, run until it stands still.
    camera = Camera.centred(FOCAL, WIDTH, HEIGHT).with_lens(FOCAL, k1)
    px = np.random.default_rng(4).uniform((0, 0), (WIDTH - 1, HEIGHT - 1), (200, 2))
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-14)
    lens = np.array([k1, 0, 0, 0, 0])
    theirs = cv2.undistortPoints(px.reshape(-1, 1, 2), matrix(camera), lens, None, None, None, stop)
    rays = camera.rays(px)
    np.testing.assert_array_equal(rays[:, 2], 1.0)
    np.testing.assert_allclose(FOCAL * rays[:, :2], FOCAL * theirs.reshape(-1, 2), atol=1e-4)


@given(
    k1=st.floats(-0.05, 0.05),
    focal=st.floats(600, 6000),
    at=st.tuples(st.floats(0, WIDTH - 1), st.floats(0, HEIGHT - 1)),
    depth_mm=st.floats(100, 2000),
)
@example(
    k1=0.05, focal=FOCAL, at=(0.0, 0.0), depth_mm=300.0
)  # the frame's own corner, where the lens bends most
@example(k1=-0.05, focal=FOCAL, at=(WIDTH - 1.0, HEIGHT - 1.0), depth_mm=300.0)
def test_there_and_back(k1: float, focal: float, at: tuple[float, float], depth_mm: float) -> None:
    # The frame grows with the focal length: the field of view stays a phone's.
    camera = Camera.centred(FOCAL, WIDTH, HEIGHT)
    camera = Camera(focal, camera.cx_px * focal / FOCAL, camera.cy_px * focal / FOCAL, k1)
    px = np.array(at) * focal / FOCAL
    again = camera.project(depth_mm * camera.rays(px))
    np.testing.assert_allclose(again, px, atol=1e-6)


def test_middle_of_the_frame() -> None:
    # Pixel centres at whole numbers: 4 x 2 pixels have their middle at (1.5, 0.5).
    camera = Camera.centred(100.0, 4, 2)
    np.testing.assert_array_equal(camera.project(np.array([0.0, 0.0, 7.0])), (1.5, 0.5))


def test_shapes_are_kept() -> None:
    camera = Camera.centred(FOCAL, WIDTH, HEIGHT).with_lens(FOCAL, 0.02)
    px = np.random.default_rng(5).uniform(0, 3000, (3, 4, 2))
    rays = camera.rays(px)
    assert rays.shape == (3, 4, 3)
    assert camera.project(rays).shape == (3, 4, 2)
    np.testing.assert_allclose(camera.rays(px[1, 2]), rays[1, 2], atol=1e-15)

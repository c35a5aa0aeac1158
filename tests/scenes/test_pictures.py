"""Rendered pictures against closed formulas, OpenCV and Pillow."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from scenes import board, rectified
from scenes.camera import Camera, Truth, aimed, card_corners_mm, framed, photograph, save_jpeg, truth_of
from scenes.degrade import encode_srgb
from scenes.random_scenes import Drawn, draw
from scenes.scene import Material, Part, as_float32
from scenes.shading import look, shade

EYE_MM = np.array([0.0, -400.0, 60.0])


def _bare(seed: int = 2, layout: str = "fork", only: tuple[Part, ...] = ()) -> Drawn:
    """Make a scene seen square-on, with the listed parts only (default: no clutter, finger or wall)."""
    drawn = draw(seed, layout)
    on = drawn.scene.on.copy()
    on[Part.MARKER] = 1.0
    if only:
        keep = np.zeros_like(on)
        keep[list(only)] = 1.0
        on = keep
    on[Part.FINGER : Part.LEG_SHAFT] = 0.0
    on[Part.LEG_SHAFT :] = 0.0
    scene = as_float32(drawn.scene._replace(on=on, card_curl=np.zeros(2), card_scale=np.ones(2)))
    drawn = replace(drawn, has_marker=True)
    return replace(drawn, scene=scene, eye_mm=EYE_MM, target_mm=np.array([0.0, 0.0, 60.0]), roll_rad=0.0)


def test_silhouette_of_the_shaft_is_at_the_tangent_angle() -> None:
    """A cylinder of radius R at distance D spans the half-angle asin(R / D): plane geometry."""
    drawn = _bare(only=(Part.SHAFT,))
    half = np.arcsin(float(drawn.scene.radius) / 400.0)
    angle = np.linspace(-1.1 * half, 1.1 * half, 20001)
    d = np.stack([np.sin(angle), np.cos(angle), np.zeros_like(angle)], 1)
    _, material = shade(drawn.scene, EYE_MM, d)
    inside = angle[material == Material.SHAFT]
    mm = 400.0
    assert inside.min() * mm == pytest.approx(-half * mm, abs=0.01)
    assert inside.max() * mm == pytest.approx(half * mm, abs=0.01)


def test_centre_ray_meets_the_near_side() -> None:
    drawn = _bare(only=(Part.SHAFT,))
    _, part, far = look(drawn.scene, EYE_MM, np.array([[0.0, 1.0, 0.0]]))
    assert part[0] == Part.SHAFT
    assert far[0] == pytest.approx(400.0 - float(drawn.scene.radius), abs=0.01)


def test_projection_agrees_with_opencv() -> None:
    drawn = draw(11)
    camera = replace(aimed(drawn, 1200, 1600, 26.0), k1=0.03)
    points = np.random.default_rng(0).uniform([-40, -30, 0], [40, 30, 120], (50, 3))
    rvec, _ = cv2.Rodrigues(camera.R_cam_shaft)
    tvec = -camera.R_cam_shaft @ camera.eye_mm
    k = np.array([[camera.f_px, 0, 599.5], [0, camera.f_px, 799.5], [0, 0, 1]])
    want, _ = cv2.projectPoints(points, rvec, tvec, k, np.array([0.03, 0, 0, 0, 0]))
    got = camera.project(points)
    np.testing.assert_allclose(got, want[:, 0], atol=1e-6)
    d = points - camera.eye_mm
    np.testing.assert_allclose(
        camera.directions(got), d / np.linalg.norm(d, axis=1, keepdims=True), atol=1e-9
    )


@pytest.fixture(scope="module")
def photo() -> tuple[np.ndarray, Truth]:
    drawn = _bare(2)
    marker = drawn.scene.marker.copy()
    marker[0] = 60.0  # clear of seal and clamp, so that it hides neither
    drawn = replace(drawn, scene=drawn.scene._replace(marker=marker))
    drawn = replace(drawn, target_mm=np.array([0.4 * float(drawn.scene.card_origin[0]), 0, 60.0]))
    camera = framed(drawn, 660, 880, 52.0)
    return photograph(drawn, camera, np.random.default_rng(0)), truth_of(drawn, camera)


def test_opencv_finds_the_card_where_it_is(photo: tuple[np.ndarray, Truth]) -> None:
    image, truth = photo
    detector = cv2.aruco.CharucoDetector(board.opencv_board(truth.card_number))
    corners, ids, _, _ = detector.detectBoard(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY))
    assert ids is not None and len(ids) >= 24
    error = corners.reshape(-1, 2) - truth.card_corners_px[ids.ravel()]
    assert np.abs(error).max() < 0.3
    assert np.linalg.norm(error, axis=1).mean() < 0.15


def test_truth_closes(photo: tuple[np.ndarray, Truth]) -> None:
    _, truth = photo
    assert truth.marker_mm is not None and truth.remaining_mm is not None
    assert truth.marker_mm + truth.remaining_mm == pytest.approx(truth.exposed_mm)
    assert truth.seal_visible > 0.9 and truth.far_visible > 0.9


def test_board_corners_follow_the_card_text() -> None:
    """Corner k = 2 j + i lies at (12 (i + 1), 12 (j + 1)) mm; OpenCV numbers its corners the same way."""
    drawn = _bare()
    want = board.opencv_board(0).getChessboardCorners()
    got = (card_corners_mm(drawn.scene) - drawn.scene.card_origin) @ drawn.scene.card_rot
    np.testing.assert_allclose(got, want, atol=1e-4)


def test_reader_view_shows_the_rims_where_the_near_side_projects() -> None:
    """Square-on, a point of the near side at s falls on the axis plane at e + (s - e) D / (D - R)."""
    drawn = _bare(only=(Part.SHAFT, Part.LIP, Part.FLANGE, Part.TUBE, Part.FAR))
    scene = drawn.scene
    axis = rectified.Axis(np.zeros(3), np.array([0.0, 0, 1.0]), float(scene.radius), 60.0)
    centre, step_u, step_s = rectified.reader_frame(axis, EYE_MM)
    assert step_u[0] < 0  # looking along +y with s down the picture, right is -x
    points = rectified.reader_points(centre, step_u, step_s)[:, 32]
    d = rectified.rays(points, EYE_MM)
    _, part, far = look(scene, EYE_MM, d)
    labels = rectified.reader_labels(scene, EYE_MM, d, part, far)
    rows = np.nonzero(labels == Material.SHAFT)[0]
    s = points[rows, 2]
    gain = 400.0 / (400.0 - float(scene.radius))
    seal_face = 60.0 - 60.0 * gain
    assert s.min() == pytest.approx(seal_face, abs=0.26)
    meets, _, _ = rectified.shaft_interval(scene, EYE_MM, d)
    amodal = points[meets, 2]
    assert amodal.min() == pytest.approx(seal_face, abs=0.26)
    assert amodal.max() == pytest.approx(60.0 + (float(scene.exposed) - 60.0) * gain, abs=0.26)


def test_finder_grid_covers_the_stated_window() -> None:
    scene = _bare().scene
    p = rectified.finder_points(scene).reshape(-1, 3)
    local = (p - scene.card_origin) @ np.asarray(scene.card_rot)
    np.testing.assert_allclose(local.min(0)[:2], [18 - 102.4 + 0.8, -88.8 + 0.8], atol=1e-3)
    np.testing.assert_allclose(local.max(0)[:2], [18 + 102.4 - 0.8, 256.8 - 0.8], atol=1e-3)


def test_same_seed_same_picture() -> None:
    a, b = draw(7), draw(7)
    for x, y in zip(a.scene, b.scene, strict=True):
        np.testing.assert_array_equal(x, y)
    camera = aimed(a, 60, 80)
    np.testing.assert_array_equal(
        photograph(a, camera, np.random.default_rng(1)), photograph(b, camera, np.random.default_rng(1))
    )
    assert (draw(8).scene.env_waves != a.scene.env_waves).any()


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_exif_orientation_brings_the_picture_upright(tmp_path: Path, orientation: int) -> None:
    """Oracle: Pillow's exif_transpose."""
    from PIL import Image, ImageOps

    image = np.zeros((40, 60, 3), np.uint8)
    image[:20, :30] = 255
    save_jpeg(tmp_path / "a.jpg", image, 26, quality=98, orientation=orientation)
    with Image.open(tmp_path / "a.jpg") as stored:
        assert stored.getexif().get_ifd(0x8769)[0xA405] == 26
        upright = np.asarray(ImageOps.exif_transpose(stored))
    assert upright.shape == image.shape
    assert np.abs(upright.astype(int) - image).mean() < 3


def test_srgb_against_the_standard() -> None:
    """IEC 61966-2-1: the two branches meet at 0.0031308; 0.2140 is sRGB 0.5 (from memory)."""
    np.testing.assert_allclose(
        encode_srgb(np.array([0.0031308, 0.21404, 1.0])), [0.04045, 0.5, 1.0], atol=1e-4
    )


def test_draws_cover_the_trade() -> None:
    drawn = [draw(s) for s in range(300)]
    share = np.mean([d.layout == "coil_over" for d in drawn])
    assert 0.28 < share < 0.48  # 0.38 wanted, 3.6 sigma of 300 draws
    assert 0.05 < np.mean([not d.has_marker for d in drawn]) < 0.16
    for d in drawn:
        e, m, w = float(d.scene.exposed), float(d.scene.marker[0]), float(d.scene.marker[1])
        assert 20 <= e <= 210 and 3 <= d.scene.radius <= 25
        assert 0 <= m <= e + 1e-3 and 2 <= w <= 4.8 + 1e-3
        assert 170 < np.linalg.norm(d.eye_mm - d.target_mm) < 760
        assert all(np.isfinite(field).all() for field in d.scene)
        lip_r = float(d.scene.lip[1])
        assert lip_r > d.scene.radius  # the lip's face stands round the shaft, in the plane s = 0


def test_camera_type_is_what_the_truth_carries(photo: tuple[np.ndarray, Truth]) -> None:
    image, truth = photo
    assert isinstance(truth.camera, Camera)
    assert image.shape == (truth.camera.height_px, truth.camera.width_px, 3)
    assert image.dtype == np.uint8

"""The card's pose against OpenCV's other solver, a closed form, and SciPy's rotations."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from calibration import card
from calibration.camera import Camera
from calibration.find_card import CardSighting, find_card
from calibration.pose import CardPose, card_points_mm, card_pose, rotation
from tests.helpers.drawn_card import Drawing

CAMERA = Camera.centred(1500.0, 1600, 1200)


def sighting_of(corners_px: np.ndarray, ids: np.ndarray | None = None) -> CardSighting:
    """Make a sighting with these corners; the pose depends on nothing else in it."""
    ids = np.arange(len(corners_px)) if ids is None else ids
    return CardSighting(0, ids, corners_px, 21, (), 0.7, 5.0)


def seen(R: np.ndarray, t: np.ndarray, camera: Camera, scale: float = 1.0) -> np.ndarray:
    """Corners of a card in this pose, by OpenCV's projection."""
    matrix = np.array([[camera.focal_px, 0, camera.cx_px], [0, camera.focal_px, camera.cy_px], [0, 0, 1]])
    points = np.c_[card.corners_mm() * scale, np.zeros(26)]
    px, _ = cv2.projectPoints(points, cv2.Rodrigues(R)[0], t, matrix, np.array([camera.k1, 0, 0, 0, 0]))
    return np.asarray(px.reshape(-1, 2))


def closed_form(corners_px: np.ndarray, camera: Camera) -> tuple[np.ndarray, np.ndarray]:
    """Pose from the homography of the card's plane: its first two columns are the axes, the third the shift.

    Source: Zhang, "A flexible new technique for camera calibration", 2000, section 3.1.
    """
    matrix = np.array([[camera.focal_px, 0, camera.cx_px], [0, camera.focal_px, camera.cy_px], [0, 0, 1]])
    H, _ = cv2.findHomography(card.corners_mm(), corners_px, 0)
    h = np.linalg.solve(matrix, H)
    h = h / np.linalg.norm(h[:, 0]) * np.sign(h[2, 2])
    return np.c_[h[:, 0], h[:, 1], np.cross(h[:, 0], h[:, 1])], h[:, 2]


poses = st.tuples(
    st.floats(-0.5, 0.5),
    st.floats(-0.5, 0.5),
    st.floats(-np.pi, np.pi),
    st.floats(250, 900),
    st.floats(-60, 60),
)


@example((0.0, 0.0, np.pi, 400.0, 0.0))  # square on and upside down
@given(poses)
def test_pose_as_the_closed_form(pose: tuple[float, float, float, float, float]) -> None:
    lean_x, lean_y, turn, distance_mm, aside_mm = pose
    R = Rotation.from_euler("zyx", [turn, lean_y, lean_x]).as_matrix()
    t = np.array([aside_mm, -aside_mm, distance_mm]) - R @ np.array([18.0, 84.0, 0.0])
    # A thousandth of a pixel of noise: with corners exact to a millionth, which no photo has, OpenCV's planar
    # solver is singular for some poses along the axes.
    corners_px = seen(R, t, CAMERA) + np.random.default_rng(2).normal(0, 0.001, (26, 2))
    found = card_pose(sighting_of(corners_px), CAMERA, 1.0, 1.0)
    R_closed, t_closed = closed_form(corners_px, CAMERA)
    np.testing.assert_allclose(found.R_cam_card, R_closed, atol=1e-3)
    # The closed form takes its scale from one column alone, so noise has more effect on it.
    np.testing.assert_allclose(found.t_cam_card_mm, t_closed, atol=5e-4 * distance_mm)
    np.testing.assert_allclose(found.t_cam_card_mm, t, atol=0.1)
    assert found.rms_px < 3e-3


def test_square_on() -> None:
    # With the noise of real corners, square on is no special case (tilt is the weakest there).
    t = np.array([-18.0, -84.0, 575.6])
    corners_px = seen(np.eye(3), t, CAMERA) + np.random.default_rng(1).normal(0, 0.05, (26, 2))
    found = card_pose(sighting_of(corners_px), CAMERA, 1.0, 1.0)
    np.testing.assert_allclose(found.R_cam_card, np.eye(3), atol=0.01)
    np.testing.assert_allclose(found.to_cam(np.array([18.0, 84.0, 0.0])), (0, 0, 575.6), atol=0.3)


@pytest.mark.parametrize("k1", [-0.03, 0.03])
def test_pose_with_a_lens_and_noise_as_opencv_iterative_solver(k1: float) -> None:
    # Source: cv2.solvePnP, SOLVEPNP_ITERATIVE, started from the truth.
    camera = CAMERA.with_lens(1500.0, k1)
    R = Rotation.from_euler("xyz", [0.35, -0.25, 0.4]).as_matrix()
    t = np.array([-30.0, -90.0, 420.0])
    noise = np.random.default_rng(8).normal(0, 0.08, (26, 2))
    corners_px = seen(R, t, camera) + noise
    matrix = np.array([[1500.0, 0, camera.cx_px], [0, 1500.0, camera.cy_px], [0, 0, 1]])
    points = np.c_[card.corners_mm(), np.zeros(26)]
    _, turn, shift = cv2.solvePnP(
        points, corners_px, matrix, np.array([k1, 0, 0, 0, 0]), cv2.Rodrigues(R)[0], t.reshape(3, 1), True
    )
    found = card_pose(sighting_of(corners_px), camera, 1.0, 1.0)
    np.testing.assert_allclose(found.R_cam_card, cv2.Rodrigues(turn)[0], atol=1e-5)
    np.testing.assert_allclose(found.t_cam_card_mm, shift.ravel(), atol=0.01)
    # 52 values, 6 unknowns; per corner both directions count.
    assert found.rms_px == pytest.approx(0.08 * np.sqrt(2 * 46 / 52), rel=0.25)


def test_a_part_of_the_corners_gives_the_same_pose() -> None:
    R = Rotation.from_euler("xyz", [0.3, 0.2, -1.2]).as_matrix()
    t = np.array([10.0, 20.0, 380.0])
    ids = np.array([0, 1, 4, 9, 12, 15, 22, 25])
    found = card_pose(sighting_of(seen(R, t, CAMERA)[ids], ids), CAMERA, 1.0, 1.0)
    np.testing.assert_allclose(found.R_cam_card, R, atol=1e-5)


@pytest.mark.parametrize("scale", [0.95, 0.98, 1.02])
def test_print_scale_is_distance(scale: float) -> None:
    # Similar triangles: the same picture of a card printed at 0.98 is taken from 0.98 of the distance.
    R = Rotation.from_euler("xyz", [0.3, 0.2, -0.2]).as_matrix()
    t = np.array([-20.0, -80.0, 400.0])
    corners_px = seen(R, t, CAMERA)
    found = card_pose(sighting_of(corners_px), CAMERA, scale, scale)
    np.testing.assert_allclose(found.t_cam_card_mm, scale * t, atol=0.01)
    np.testing.assert_allclose(found.R_cam_card, R, atol=1e-5)


def test_print_scale_along_and_across() -> None:
    points = card_points_mm(np.array([0, 3, 25]), along=0.98, across=1.01)
    np.testing.assert_allclose(points, [(12.12, 11.76, 0), (24.24, 23.52, 0), (24.24, 152.88, 0)])


def test_curled_card_shows_in_the_residual() -> None:
    # A card bent to a radius of 400 mm along its length stands 8 mm off at the ends.
    R, t = Rotation.from_euler("xyz", [0.5, 0.0, 0.0]).as_matrix(), np.array([-18.0, -84.0, 420.0])
    y = card.corners_mm()[:, 1] - 84
    bent = np.c_[card.corners_mm()[:, 0], 84 + 400 * np.sin(y / 400), 400 * (1 - np.cos(y / 400))]
    found = card_pose(sighting_of(CAMERA.project(bent @ R.T + t)), CAMERA, 1.0, 1.0)
    assert found.rms_px > 1.0


def test_from_a_picture_to_the_pose() -> None:
    # The whole way: the card drawn in a known pose, found, and its pose computed.
    R = Rotation.from_euler("zyx", [1.1, 0.25, -0.3]).as_matrix()
    t = np.array([0.0, 0.0, 330.0]) - R @ np.array([18.0, 84.0, 0.0])
    matrix = np.array([[1500.0, 0, CAMERA.cx_px], [0, 1500.0, CAMERA.cy_px], [0, 0, 1]])
    view = matrix @ np.c_[R[:, 0], R[:, 1], t]
    sighting = find_card(Drawing(1600, 1200).lay_card(9, view).photo())
    found = card_pose(sighting, CAMERA, 1.0, 1.0)
    assert found.rms_px < 0.1
    middle = np.array([18.0, 84.0, 0.0])
    np.testing.assert_allclose(found.to_cam(middle), (0, 0, 330), atol=0.15)
    angle = np.arccos(np.clip((np.trace(found.R_cam_card.T @ R) - 1) / 2, -1, 1))
    assert np.degrees(angle) < 0.3


@given(st.tuples(*[st.floats(-3, 3)] * 3))
def test_rotation_as_scipy(vector: tuple[float, float, float]) -> None:
    # Source: scipy.spatial.transform.Rotation.from_rotvec.
    np.testing.assert_allclose(
        rotation(np.array(vector)), Rotation.from_rotvec(vector).as_matrix(), atol=1e-12
    )


@pytest.mark.parametrize("angle", [0.0, 1e-12, 1e-9, 1e-6])
def test_small_rotations_as_scipy(angle: float) -> None:
    vector = angle * np.array([0.6, 0.0, -0.8])
    np.testing.assert_allclose(rotation(vector), Rotation.from_rotvec(vector).as_matrix(), atol=1e-15)


def test_to_cam_takes_any_shape() -> None:
    pose = CardPose(Rotation.from_euler("x", 90, degrees=True).as_matrix(), np.array([1.0, 2.0, 3.0]), 0.0)
    np.testing.assert_allclose(pose.to_cam(np.array([0.0, 0.0, 5.0])), (1, -3, 3), atol=1e-12)
    assert pose.to_cam(np.zeros((4, 2, 3))).shape == (4, 2, 3)

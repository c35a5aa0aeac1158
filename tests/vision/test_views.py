"""Positions of the views in the photo: interpolated ones against each projected by itself, and parts of views."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.camera import Camera
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM
from vision.geometry import sampling, views
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import READER_ROWS, READER_STEP_MM, ReaderFrame
from vision.networks.run import ROWS_MULTIPLE
from vision.reading import Layout
from vision.shaft.find import ShaftGuess
from vision.shaft.fit import BEYOND_SHAFT_MM
from vision.shaft_view import rows_to_classify

TILT = 0.35
"""rad; the camera looks along the shaft at 20 degrees, about as steep as people hold a phone."""


def frame(lens: float = 0.03) -> ReaderFrame:
    axis = np.array([0.1, np.cos(TILT), np.sin(TILT)])
    cylinder = Cylinder(np.array([-20.0, 10.0, 260.0]), axis / np.linalg.norm(axis), 8.0)
    return ReaderFrame(cylinder, Camera.centred(3000.0, 3000, 4000).with_lens(3000.0, lens), -120.0)


def ramp() -> np.ndarray:
    """Make a picture whose brightness is its position, x in red and y in green, modulo 256 px."""
    y, x = np.mgrid[0:4000, 0:3000]
    return np.stack([x % 256, y % 256, np.zeros_like(x)], axis=-1).astype(np.uint8)


def test_interpolated_places_are_the_projected_ones() -> None:
    """Against OpenCV's own projection with one radial term."""
    import cv2

    at = frame()
    rows = np.arange(READER_ROWS)
    places = sampling.photo_positions(
        at.camera, lambda r, c: at.points_cam(r, views.reader_u(c)), (0, READER_ROWS), views.READER_COLUMNS
    )
    points = at.points_cam(rows[:, None], at.u()[None, :])
    camera = np.array([[3000.0, 0, at.camera.cx_px], [0, 3000.0, at.camera.cy_px], [0, 0, 1.0]])
    expected, _ = cv2.projectPoints(
        points.reshape(-1, 1, 3), np.zeros(3), np.zeros(3), camera, np.array([at.camera.k1, 0, 0, 0.0])
    )
    assert np.abs(places.reshape(-1, 2) - expected.reshape(-1, 2)).max() < 0.05


def test_places_behind_the_camera_are_outside_the_photo() -> None:
    """A view of which one end lies behind the lens: nothing may be interpolated between there and here."""
    at = frame()
    at = replace(at, cylinder=replace(at.cylinder, point_cam=np.array([-20.0, 10.0, 40.0])))
    rows = np.arange(READER_ROWS)
    places = sampling.photo_positions(
        at.camera, lambda r, c: at.points_cam(r, views.reader_u(c)), (0, READER_ROWS), views.READER_COLUMNS
    )
    behind = at.points_cam(rows[:, None], at.u()[None, :])[..., 2] < sampling.MIN_DEPTH_MM
    assert 0.1 < behind.mean() < 0.9
    assert (places[behind] == -1e4).all()


@pytest.mark.parametrize("rows", [(0, 512), (256, 640), (992, 1024)])
def test_some_rows_of_a_view_are_those_of_the_whole(rows: tuple[int, int]) -> None:
    picture, at = np.ascontiguousarray(ramp()[:, ::-1] // 2), frame()
    whole, some = views.reader_view(picture, at), views.reader_view(picture, at, rows)
    # The wrap at 256 px is a step, on which a hundredth of a pixel shows.
    assert np.mean(np.abs(whole[slice(*rows)].astype(int) - some) > 3) < 0.03


def test_a_shocks_view_covers_its_shaft_and_a_forks_as_far_as_a_gaiter_would_show() -> None:
    at, guess = frame(), ShaftGuess(0.0, 0.0, 70.0, 120.0, 16.0)
    first, last = rows_to_classify(at, guess, Layout.FORK)
    assert first > 0 and last == READER_ROWS
    assert at.s0_mm + READER_STEP_MM * first <= 70.0 - S_ORIGIN_ON_CARD_MM - BEYOND_SHAFT_MM
    # 80 mm of the view after this shaft: too little for a clamp to appear too long.
    ends_mm = at.s0_mm + READER_STEP_MM * READER_ROWS + S_ORIGIN_ON_CARD_MM
    _, last = rows_to_classify(at, replace(guess, y_high_mm=ends_mm - 80.0), Layout.FORK)
    assert last < READER_ROWS
    first, last = rows_to_classify(at, guess, Layout.SHOCK)
    assert first % ROWS_MULTIPLE == last % ROWS_MULTIPLE == 0 and last - first < READER_ROWS
    low, high = (at.s0_mm + READER_STEP_MM * row for row in (first, last))
    assert low <= 70.0 - S_ORIGIN_ON_CARD_MM - BEYOND_SHAFT_MM
    assert high >= 120.0 - S_ORIGIN_ON_CARD_MM + BEYOND_SHAFT_MM or last == READER_ROWS
    nowhere = ShaftGuess(0.0, 0.0, 900.0, 950.0, 16.0)
    assert rows_to_classify(at, nowhere, Layout.SHOCK) == (0, READER_ROWS)


def test_views_are_those_that_the_networks_were_trained_on() -> None:
    """Shapes, steps and reaches of what is rendered for training; no source but that both must agree."""
    from scenes import rectified
    from vision.rims import refine as refinement

    trained = (rectified.FINDER_SHAPE, rectified.READER_SHAPE, rectified.EDGE_SHAPE, rectified.RIM_SHAPE)
    assert trained == (
        (views.FINDER_ROWS, views.FINDER_COLUMNS),
        (views.READER_ROWS, views.READER_COLUMNS),
        (views.EDGE_ROWS, views.EDGE_COLUMNS),
        (refinement.RIM_ROWS, refinement.RIM_COLUMNS),
    )
    assert rectified.FINDER_MM_PER_PX == views.FINDER_STEP_MM
    assert rectified.READER_MM_PER_ROW == views.READER_STEP_MM
    assert rectified.EDGE_MM_PER_ROW == views.EDGE_STEP_MM
    seal, marker, far = (refinement.RIM_STEP_MM[kind] for kind in refinement.RimKind)
    assert (seal, marker, marker, far) == rectified.RIM_MM_PER_ROW
    assert rectified.RIM_U == refinement.RIM_U
    for px_per_radius, radius_mm in ((20.0, 6.0), (90.0, 20.0), (150.0, 20.0), (600.0, 20.0), (150.0, 5.0)):
        reach_u = rectified.fine_reach(radius_mm / px_per_radius, radius_mm)
        assert views.fine_reach_u(px_per_radius, radius_mm) == pytest.approx(reach_u)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_means_of_pictures_are_rounded(count: int) -> None:
    """Against numpy's mean of floats; halves go up."""
    pictures = list(np.random.default_rng(count).integers(0, 256, (count, 9, 7, 3), np.uint8))
    expected = np.floor(np.mean(np.stack(pictures).astype(float), axis=0) + 0.5)
    np.testing.assert_array_equal(sampling.mean_image(pictures), expected)


@pytest.mark.parametrize("count", [1, 2, 3, 1000])
def test_median_colour_is_numpy_s(count: int) -> None:
    rng = np.random.default_rng(count)
    for highest in (2, 256):
        colours = rng.integers(0, highest, (count, 3)).astype(np.uint8)
        np.testing.assert_array_equal(sampling.median_colour(colours), np.median(colours, axis=0))

"""What was done to a reshaped photo: cut or squeezed, against made corners and scaled pictures."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.camera import ASPECT_SD
from calibration.card import corners_mm
from calibration.find_card import CardSighting
from calibration.focal import Squeezed
from calibration.pose import card_points_mm, rotation
from tests.helpers.made_observations import made
from tests.helpers.special_photos import case
from vision.adjustment.aspect_mixture import with_aspect_prior
from vision.adjustment.observations import PriorInputs
from vision.adjustment.parameters import FIXED
from vision.adjustment.solve import solve
from vision.read import read
from vision.reading import Layout, Reading
from vision.reasons import Reason
from vision.request import Request
from vision.square_pixels import CUT_UNEQUAL_SHARE, shape_remark, with_shape

FOCAL_PX, WIDE, HIGH = 1500.0, 1000, 1400


def corners(aspect: float, middle: tuple[float, float], turn: tuple[float, float, float]) -> CardSighting:
    """Project all corners as OpenCV does, with noise, and scale their heights about the lens' axis."""
    ids = np.arange(len(corners_mm()))
    points = card_points_mm(ids, 1.0, 1.0)
    matrix = np.array([[FOCAL_PX, 0, middle[0]], [0, FOCAL_PX, middle[1]], [0, 0, 1]])
    vector = np.array(turn)
    shift = np.array([0.0, 0.0, 350.0]) - rotation(vector) @ points.mean(axis=0)
    px = cv2.projectPoints(points, vector, shift, matrix, None)[0][:, 0]
    px = px + np.random.default_rng(1).normal(0, 0.08, px.shape)
    px[:, 1] = middle[1] + aspect * (px[:, 1] - middle[1])
    return CardSighting(1, ids, px, 21, (), 0.5, 4.0)


def shaped(sighting: CardSighting, seems: float) -> Request | Reading:
    """Decide for a photo of 1,000 x 1,400 px whose shape is that of its frame scaled by `seems`, or of a cut."""
    squeezed = Squeezed(FOCAL_PX * math.sqrt(seems), 0.012, math.log(seems), 1.0)
    request = Request(
        PriorInputs(41.0, 0.02),
        Layout.FORK,
        1.1 * FOCAL_PX,
        0.2,
        centre_sd_px=300.0,
        squeezed=(squeezed,),
    )
    return with_shape(np.zeros((HIGH, WIDE, 3), np.uint8), request, sighting)


@pytest.mark.parametrize("turn", [(0.35, -0.35, 0.1), (0.05, 0.1, 1.5)])
@pytest.mark.parametrize("aspect", [0.85, 0.95, 1.05])
def test_a_whole_photo_that_was_squeezed_is_solved_as_such(
    aspect: float, turn: tuple[float, float, float]
) -> None:
    found = shaped(corners(aspect, (499.5, 699.5), turn), aspect)
    assert isinstance(found, Request)
    assert found.log_aspect == pytest.approx(math.log(aspect))
    assert found.centre_sd_px < 10 and found.focal_rel_sd < 0.02
    side = "width" if aspect > 1 else "height"
    assert f"its {side} ({round(100 * (1 - min(aspect, 1 / aspect)))}%)" in (shape_remark(found) or "")


@pytest.mark.parametrize("turn", [(0.35, -0.35, 0.1), (0.05, 0.1, 1.5)])
@pytest.mark.parametrize("middle", [(499.5, 1100.0), (200.0, 699.5)])
def test_a_cut_photo_keeps_its_square_pixels(
    middle: tuple[float, float], turn: tuple[float, float, float]
) -> None:
    """The lens' axis is off the middle; its shape is that of a frame squeezed by 0.9."""
    found = shaped(corners(1.0, middle, turn), 0.9)
    assert isinstance(found, Request)
    assert found.log_aspect == 0.0 and found.centre_sd_px == 300.0
    assert CUT_UNEQUAL_SHARE <= found.unequal_share < 0.1
    assert shape_remark(found) is None


def test_a_photo_cut_and_squeezed_is_refused() -> None:
    found = shaped(corners(0.85, (200.0, 1100.0), (0.05, 0.1, 1.5)), 0.95)
    assert isinstance(found, Reading)
    assert found.reason is Reason.STRETCHED
    assert "height (" in found.notes[0].detail


WHOLE = Request(PriorInputs(41.0, 0.02), Layout.FORK, FOCAL_PX, 0.012)
PHOTO = np.zeros((HIGH, WIDE, 3), np.uint8)


@pytest.mark.parametrize("turn", [(0.35, -0.35, 0.1), (0.05, 0.1, 1.5), (0.0, 0.0, 0.0)])
def test_a_whole_photo_is_left_as_it_is(turn: tuple[float, float, float]) -> None:
    assert with_shape(PHOTO, WHOLE, corners(1.0, (499.5, 699.5), turn)) is WHOLE


@pytest.mark.parametrize("stated", [0.6, 1.6])
def test_another_photos_focal_length_is_no_cut(stated: float) -> None:
    request = replace(WHOLE, focal_px=stated * FOCAL_PX)
    assert with_shape(PHOTO, request, corners(1.0, (499.5, 699.5), (0.35, -0.35, 0.1))) is request


@pytest.mark.parametrize("middle", [(499.5, 900.0), (380.0, 699.5), (600.0, 500.0)])
def test_a_photo_cut_to_the_shape_it_had_is_noticed(middle: tuple[float, float]) -> None:
    """The file states the focal length of the frame as it is now: three quarters of the true one."""
    request = replace(WHOLE, focal_px=0.75 * FOCAL_PX)
    found = with_shape(PHOTO, request, corners(1.0, middle, (0.35, -0.35, 0.1)))
    assert isinstance(found, Request) and found.reshaped
    assert abs(math.log(found.focal_px / FOCAL_PX)) < 2 * found.focal_rel_sd
    assert max(abs(middle[0] - 499.5), abs(middle[1] - 699.5)) < 2 * found.centre_sd_px
    assert "was cut" in (shape_remark(found) or "")


def test_a_photo_cut_to_its_shape_gives_the_lengths_of_the_whole_one() -> None:
    """Three quarters of either side of the plain photo, off its middle (truth: tests/vision/photos/plain.json)."""
    one = case("plain")
    high, wide = (round(0.75 * side) for side in one.pixels.shape[:2])
    top, left = one.pixels.shape[0] - high - 40, 20
    pixels = np.ascontiguousarray(one.pixels[top : top + high, left : left + wide])
    found = read(pixels, replace(one.request, focal_px=0.75 * one.request.focal_px))
    assert any("was cut" in remark for remark in found.remarks)
    read_mm = [(found.exposed, 106.766), (found.marker, 48.0), (found.remaining, 58.766)]
    assert any(length is not None for length, _ in read_mm)
    for length, true_mm in read_mm:
        assert length is None or abs(length.value_mm - true_mm) <= max(1.0, length.u95_mm)


def test_a_squeezed_photo_gives_the_lengths_of_the_whole_one() -> None:
    """The plain photo with its height scaled by 0.9. True lengths: tests/vision/photos/plain.json."""
    one = case("plain")
    high, wide = one.pixels.shape[:2]
    squeezed = np.asarray(cv2.resize(one.pixels, (wide, round(0.9 * high)), interpolation=cv2.INTER_AREA))
    frame = Squeezed(
        math.sqrt(0.9) * one.request.focal_px,
        one.request.focal_rel_sd,
        math.log(round(0.9 * high) / high),
        1.0,
    )
    cut = replace(
        one.request,
        focal_px=1.2 * one.request.focal_px,
        focal_rel_sd=0.2,
        centre_sd_px=400.0,
        squeezed=(frame,),
    )
    found = read(squeezed, cut)
    assert any("squeezed: its height (10%)" in remark for remark in found.remarks)
    for length, true_mm in ((found.exposed, 106.766), (found.marker, 48.0), (found.remaining, 58.766)):
        assert length is not None
        assert abs(length.value_mm - true_mm) <= min(1.0, length.u95_mm)


@pytest.mark.parametrize(("share", "rims_count"), [(0.0, 0), (0.1, 3)])
def test_a_reshaped_photo_leaves_its_aspect_open_as_far_as_is_seen(share: float, rims_count: int) -> None:
    """The prior on the aspect widens with its share only, and rims have no say."""
    scene = made(np.random.default_rng(4))
    e = replace(scene.observations, unequal_share=share, centre_sd_px=300.0, focal_rel_sd=0.2)
    found = with_aspect_prior(solve(scene.theta, e).theta, e)
    assert (found.aspect_extra_sd > 0) == (share > 0)
    assert found.aspect_prior_sd < ASPECT_SD
    astray = tuple(replace(rim, points_px=rim.points_px + 9.0) for rim in e.rims[:rims_count])
    assert with_aspect_prior(scene.theta[:FIXED], replace(e, rims=astray)).aspect_extra_sd == pytest.approx(
        found.aspect_extra_sd, rel=1e-2
    )

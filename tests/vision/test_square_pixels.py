"""Photos whose width and height were scaled differently, against made corners and scaled pictures."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.camera import Camera
from calibration.card import corners_mm
from calibration.find_card import CardSighting
from calibration.pixel_aspect import LensPrior, pixel_aspect
from calibration.pose import card_points_mm, rotation
from tests.helpers.special_photos import case
from vision.read import read
from vision.reasons import Reason


def corners(aspect: float, noise_px: float) -> CardSighting:
    """Project all corners as OpenCV does, tilted by 20 degrees either way, and scale their heights."""
    ids = np.arange(len(corners_mm()))
    points = card_points_mm(ids, 1.0, 1.0)
    matrix = np.array([[1500.0, 0, 499.5], [0, 1500.0, 699.5], [0, 0, 1]])
    turn = np.array([0.35, -0.35, 0.1])
    shift = np.array([0.0, 0.0, 350.0]) - rotation(turn) @ points.mean(axis=0)
    px = cv2.projectPoints(points, turn, shift, matrix, None)[0][:, 0]
    px = px + np.random.default_rng(1).normal(0, noise_px, px.shape)
    px[:, 1] = 699.5 + aspect * (px[:, 1] - 699.5)
    return CardSighting(1, ids, px, 21, (), 0.5, 4.0)


@pytest.mark.parametrize("aspect", [1.0, 0.9, 1.08])
def test_the_aspect_is_what_corners_were_scaled_by(aspect: float) -> None:
    lens = LensPrior(Camera(1500.0, 499.5, 699.5), 0.02, 20.0)
    found = pixel_aspect(corners(aspect, 0.1), lens, 1.0, 1.0)
    assert abs(found.log - np.log(aspect)) < 2.5 * found.sd
    assert found.sd < 0.02
    assert (abs(found.log) > 3 * found.sd) == (aspect != 1.0)


def test_a_stretched_photo_is_refused_and_a_cut_one_is_not() -> None:
    one = case("plain")
    edited = replace(one.request, centre_sd_px=20.0)
    assert read(one.pixels, edited).status != "refused"
    high, wide = one.pixels.shape[:2]
    squeezed = np.asarray(cv2.resize(one.pixels, (wide, round(0.9 * high)), interpolation=cv2.INTER_AREA))
    refused = read(squeezed, edited)
    assert refused.reason is Reason.STRETCHED
    assert "height was shrunk by about 1" in refused.notes[0].detail

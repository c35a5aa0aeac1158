"""Numbers of markers drawn by OpenCV (`cv2.aruco.generateImageMarker`), read where its outlines are."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.markers import marker_dictionary
from calibration.read_markers import read_markers

# Somebody holding a phone at an angle: a quadrilateral of 30 px, clockwise as seen.
LEANING = np.array([[20.0, 14.0], [51.0, 18.0], [48.0, 50.0], [17.0, 43.0]])


def drawn(number: int, quad: np.ndarray, light: float = 200.0) -> np.ndarray:
    """Draw a marker on white paper so that its outermost black pixels lie in the quadrilateral's corners."""
    side = 140
    paper = np.pad(cv2.aruco.generateImageMarker(marker_dictionary(), number, side), 30, constant_values=255)
    middle = quad.mean(axis=0)
    outside = middle + (quad - middle) * (1 + 1 / 31)
    corners = 30 - 0.5 + side * np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    to_px = cv2.getPerspectiveTransform(corners.astype(np.float32), outside.astype(np.float32))
    picture = cv2.warpPerspective(paper, to_px, (70, 64), flags=cv2.INTER_AREA, borderValue=255)
    return np.asarray(np.rint(40 + cv2.GaussianBlur(picture, (0, 0), 0.7) / 255 * (light - 40)), np.uint8)


@pytest.mark.parametrize("number", [0, 62, 500, 986, 993])
@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_number_and_its_first_corner_are_read_however_the_outline_begins(number: int, turns: int) -> None:
    ids, quads, which = read_markers(drawn(number, LEANING), np.roll(LEANING, turns, axis=0)[None])
    assert ids.tolist() == [number]
    np.testing.assert_allclose(quads[0], LEANING)
    assert which.tolist() == [0]


def test_they_are_the_numbers_and_corners_that_opencv_reads() -> None:
    picture = drawn(62, LEANING)
    theirs, numbers, _ = cv2.aruco.ArucoDetector(marker_dictionary()).detectMarkers(picture)
    outline = np.array(theirs, float).reshape(1, 4, 2)
    ids, quads, _ = read_markers(picture, np.roll(outline, 1, axis=1))
    assert ids.tolist() == numbers.ravel().tolist() == [62]
    np.testing.assert_allclose(quads, outline)


def test_what_is_no_marker_is_left_out() -> None:
    """Noise, a black square, a marker that half its light has left, and one whose paper is all but black."""
    noise = np.random.default_rng(3).integers(0, 255, (64, 70)).astype(np.uint8)
    black = np.full((64, 70), 30, np.uint8)
    covered = drawn(62, LEANING)
    covered[:, :34] = 30
    for picture in (noise, black, covered, drawn(62, LEANING, light=50.0)):
        assert len(read_markers(picture, LEANING[None])[0]) == 0
    assert len(read_markers(noise, np.zeros((0, 4, 2)))[0]) == 0

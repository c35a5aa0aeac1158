"""Finding the card in pictures that OpenCV's own board draws through a known homography."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration import card
from calibration.detect_markers import MARKERS_NEEDED, find_markers, most_of_one_card
from calibration.find_card import CardError, CardSighting, find_card
from calibration.grey import Grey
from tests.helpers.drawn_card import FINER, Drawing, place, view_of

UPRIGHT = view_of((600, 500), 5.0, 0.0)


def corner_errors_px(sighting: CardSighting, view: np.ndarray) -> np.ndarray:
    """Distances between found and true corners."""
    true = place(card.corners_mm()[sighting.corner_ids], view)
    return np.asarray(np.linalg.norm(sighting.corners_px - true, axis=1))


@pytest.mark.parametrize("number", [0, 1, 23, 46])
def test_number_and_all_corners(number: int) -> None:
    sighting = find_card(Drawing().lay_card(number, UPRIGHT).photo())
    assert sighting.number == number
    assert sighting.markers == 21
    assert sighting.corner_ids.tolist() == list(range(26))
    assert sighting.tags == ()


@pytest.mark.parametrize("turn_deg", [0, 33, 90, 135, 180, 270, 301])
@pytest.mark.parametrize("lean", [(0.0, 0.0), (0.03, 0.25)])
def test_corners_within_a_tenth_of_a_pixel_however_the_card_lies(
    turn_deg: float, lean: tuple[float, float]
) -> None:
    view = view_of((603.3, 498.6), 5.0, turn_deg, lean)
    sighting = find_card(Drawing().lay_card(7, view).photo(seed=int(turn_deg)))
    errors = corner_errors_px(sighting, view)
    assert len(errors) >= 24
    assert errors.max() < 0.15
    assert np.sqrt(np.mean(errors**2)) < 0.1
    # No common shift: a half-pixel convention would show here at once.
    shift = np.mean(sighting.corners_px - place(card.corners_mm()[sighting.corner_ids], view), axis=0)
    assert np.linalg.norm(shift) < 0.03


def test_corners_of_a_picture_that_is_searched_at_reduced_size() -> None:
    view = view_of((1500.2, 1100.7), 10.0, 78.0, (0.02, 0.1))
    sighting = find_card(Drawing(3000, 2200).lay_card(3, view).photo(blur_px=1.0))
    assert sighting.number == 3
    assert len(sighting.corner_ids) == 26
    assert corner_errors_px(sighting, view).max() < 0.15


def test_our_corners_are_those_of_opencv_board_detector() -> None:
    # Source: cv2.aruco.CharucoDetector (OpenCV 4.14 or newer returns them without the half pixel).
    view = view_of((600, 500), 5.0, 40.0, (0.0, 0.15))
    photo = Drawing().lay_card(2, view).photo()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    board = cv2.aruco.CharucoBoard((3, 14), 12.0, 9.0, dictionary, np.array(card.marker_ids(2)))
    theirs_px, theirs, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(photo)
    sighting = find_card(photo)
    assert set(np.ravel(theirs)) <= set(sighting.corner_ids)
    ours = dict(zip(sighting.corner_ids.tolist(), sighting.corners_px, strict=True))
    for k, px in zip(np.ravel(theirs), np.reshape(theirs_px, (-1, 2)), strict=True):
        assert np.linalg.norm(ours[k] - px) < 0.15


@pytest.mark.parametrize("scale", [2.5, 5.0, 8.0])
def test_scale_along_the_card(scale: float) -> None:
    view = view_of((600, 700), scale, 90.0)
    sighting = find_card(Drawing(1600, 1400).lay_card(0, view).photo())
    assert sighting.px_per_mm == pytest.approx(scale, rel=0.01)


@pytest.mark.parametrize("blur_px", [0.7, 1.2, 1.8])
def test_blur_is_measured(blur_px: float) -> None:
    # The pixel's own width adds 1/sqrt(12) px in square; reading between pixels and smoothing add more.
    sighting = find_card(Drawing().lay_card(0, view_of((600, 500), 5.0, 12.0)).photo(blur_px=blur_px))
    assert sighting.blur_px == pytest.approx(np.hypot(blur_px, 12**-0.5), rel=0.25)


@pytest.mark.parametrize("along_x", [True, False])
def test_a_hand_that_moves_one_way_blurs_as_much(along_x: bool) -> None:
    """Blur in one direction only, by the same Gaussian: edges along it stay sharp, the others show it."""
    drawing = Drawing().lay_card(0, view_of((600, 500), 5.0, 0.0))
    sd_px = 1.8 * FINER
    smeared = cv2.GaussianBlur(
        drawing.light, (0, 0), sd_px if along_x else 0.01, sigmaY=0.01 if along_x else sd_px
    )
    drawing.light = np.asarray(smeared, np.float32)
    sighting = find_card(drawing.photo(blur_px=0.0))
    assert sighting.blur_px == pytest.approx(np.hypot(1.8, 12**-0.5), rel=0.25)
    # The card's long edge lies along y.
    assert (sighting.blur_along_px < 0.75) if along_x else (sighting.blur_along_px == sighting.blur_px)


def test_tags_are_reported_and_a_spare_id_is_not() -> None:
    view = view_of((600, 450), 4.5, 0.0)
    drawing = Drawing().lay_card(4, view)
    drawing.lay_tag(988, (0.0, 176.0), view).lay_tag(993, (20.0, 176.0), view).lay_tag(
        996, (60.0, 60.0), view
    )
    assert find_card(drawing.photo()).tags == (card.Tag.FRONT_RIGHT, card.Tag.AFTER)


def test_partly_covered_card_gives_only_the_corners_that_are_seen() -> None:
    # From 96 mm on nothing is seen: inner corners at y = 96 mm and beyond (k >= 14) are hidden.
    drawing = Drawing().lay_card(5, UPRIGHT).cover((-6, 95), (42, 175), UPRIGHT)
    sighting = find_card(drawing.photo())
    assert sighting.number == 5
    assert set(sighting.corner_ids.tolist()) <= set(range(14))
    assert len(sighting.corner_ids) >= 12
    assert corner_errors_px(sighting, UPRIGHT).max() < 0.15


def refusal(photo: np.ndarray) -> CardError:
    with pytest.raises(CardError) as caught:
        find_card(photo)
    assert caught.value.message and caught.value.remedy
    return caught.value


def test_two_cards() -> None:
    drawing = (
        Drawing().lay_card(8, view_of((300, 500), 5.0, 0.0)).lay_card(31, view_of((900, 500), 5.0, 170.0))
    )
    error = refusal(drawing.photo())
    assert error.kind == "several"
    assert "8, 31" in error.message


def test_mostly_covered_card() -> None:
    drawing = Drawing().lay_card(5, UPRIGHT).cover((-6, 50), (42, 175), UPRIGHT)
    assert refusal(drawing.photo()).kind == "hidden"


def test_blurred_card() -> None:
    drawing = Drawing(1600, 1400).lay_card(5, view_of((800, 700), 8.0, 15.0))
    assert refusal(drawing.photo(blur_px=3.6)).kind == "blurred"


def test_a_card_that_only_sharpening_shows_is_found() -> None:
    """Corners are refined in the photo as it is."""
    view = view_of((600, 500), 5.0, 20.0)
    photo = Drawing().lay_card(7, view).photo(blur_px=2.6)
    assert most_of_one_card(find_markers(Grey(photo))[0]) < MARKERS_NEEDED
    sighting = find_card(photo)
    assert sighting.number == 7 and len(sighting.corner_ids) >= 24
    assert corner_errors_px(sighting, view).max() < 0.6


def test_tiny_card() -> None:
    assert refusal(Drawing().lay_card(5, view_of((600, 500), 1.45, 0.0)).photo(blur_px=0.4)).kind == "small"


@pytest.mark.parametrize("level", [0, 128, 255])
def test_nothing_at_all(level: int) -> None:
    assert refusal(np.full((400, 600), level, np.uint8)).kind == "none"


def test_a_mirrored_card_is_no_card() -> None:
    # A photo through a mirror, or one flipped by an app, would swap the lengths.
    photo = Drawing().lay_card(5, UPRIGHT).photo()
    assert refusal(np.ascontiguousarray(photo[:, ::-1])).kind == "none"

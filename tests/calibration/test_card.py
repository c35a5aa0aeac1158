"""The card's geometry against OpenCV's own board and against the figures that define the card."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration import card


def opencv_board(number: int = 0) -> cv2.aruco.CharucoBoard:
    """Build the same card with OpenCV (current pattern)."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    return cv2.aruco.CharucoBoard((3, 14), 12.0, 9.0, dictionary, np.array(card.marker_ids(number)))


def test_corners_are_where_opencv_puts_them() -> None:
    # Source: cv2.aruco.CharucoBoard.getChessboardCorners.
    theirs = np.asarray(opencv_board().getChessboardCorners())
    np.testing.assert_allclose(card.corners_mm(), theirs[:, :2], atol=1e-6)


@pytest.mark.parametrize("number", [0, 7, 46])
def test_markers_are_where_opencv_puts_them_in_its_order(number: int) -> None:
    # Source: cv2.aruco.CharucoBoard.getObjPoints and getIds.
    board = opencv_board(number)
    theirs = np.array([np.asarray(quad)[:, :2] for quad in board.getObjPoints()])
    np.testing.assert_allclose(card.marker_quads_mm(), theirs, atol=1e-6)
    assert list(np.ravel(board.getIds())) == list(card.marker_ids(number))
    assert not board.getLegacyPattern()


def test_first_square_is_black_as_in_opencv_picture() -> None:
    # Source: cv2.aruco.CharucoBoard.generateImage at 20 px a square (divides evenly).
    picture = opencv_board().generateImage((60, 280))
    for row in range(card.ROWS):
        for column in range(card.COLUMNS):
            is_white = picture[row * 20 + 1, column * 20 + 1] == 255
            assert is_white == ((row, column) in card.white_squares())


def test_sizes_of_the_card() -> None:
    assert (card.CARD_WIDTH_MM, card.CARD_LENGTH_MM) == (46.0, 178.0)
    assert card.MARKERS_PER_CARD == 21
    assert card.CORNER_COUNT == 26
    outline = card.outline_mm()
    np.testing.assert_array_equal(np.ptp(outline, axis=0), (46.0, 178.0))
    np.testing.assert_array_equal(outline[0], (-5.0, -5.0))


def test_every_id_belongs_to_one_card_or_tag_or_is_spare() -> None:
    numbers = [card.card_number(marker_id) for marker_id in range(1000)]
    assert numbers[:987] == [marker_id // 21 for marker_id in range(987)]
    assert numbers[987:] == [None] * 13
    assert sorted(card.TAGS) == list(range(987, 994))
    assert card.card_number(-1) is None
    for number in range(card.CARD_COUNT):
        assert {card.card_number(marker_id) for marker_id in card.marker_ids(number)} == {number}


@pytest.mark.parametrize("k", [-1, 26])
def test_no_such_corner(k: int) -> None:
    with pytest.raises(ValueError, match="corners 0 to 25"):
        card.corner_mm(k)


@pytest.mark.parametrize("number", [-1, 47])
def test_no_such_card(number: int) -> None:
    with pytest.raises(ValueError, match="0 to 46"):
        card.marker_ids(number)

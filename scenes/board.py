"""The card's printed cells, read from OpenCV's own picture of the board."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

COLUMNS, ROWS, SQUARE_MM, MARKER_MM = 3, 14, 12.0, 9.0
MARKERS_PER_CARD = 21


def opencv_board(number: int) -> cv2.aruco.CharucoBoard:
    """Card `number` (0 to 46) as OpenCV knows it."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    ids = np.arange(MARKERS_PER_CARD * number, MARKERS_PER_CARD * (number + 1))
    return cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_MM, MARKER_MM, dictionary, ids)


@lru_cache(maxsize=64)
def cells(number: int) -> np.ndarray:
    """Cells (14, 3, 7, 7) of each square's marker: 1 white, 0 black; zeros in black squares.

    The picture has 56 px a square, so that a cell is 6 px and the gap round a marker 7 px: no rounding.
    """
    px = 56
    image = opencv_board(number).generateImage((COLUMNS * px, ROWS * px), marginSize=0, borderBits=1)
    out = np.zeros((ROWS, COLUMNS, 7, 7), np.float32)
    centres = 7 + 6 * np.arange(7) + 3
    for row in range(ROWS):
        for col in range(COLUMNS):
            if (row + col) % 2:
                square = image[row * px : (row + 1) * px, col * px : (col + 1) * px]
                out[row, col] = square[np.ix_(centres, centres)] > 127
    return out

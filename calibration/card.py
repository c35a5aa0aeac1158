"""Geometry of the printed scale card: positions of its corners and markers, meaning of its ids.

Frame ``card``: origin at the board's own outer corner beside the seal-end arrow, x across the board
(short way), y along it away from the arrow, z away from the viewer, mm at a print scale of exactly 1.
Seen on the printed face with the arrow up, x runs right and y runs down.

The card must never change: every photo ever taken has to stay readable.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np

COLUMNS = 3
"""Squares across the board."""

ROWS = 14
"""Squares along the board; row 0 is the seal end."""

SQUARE_MM = 12.0
"""Side of a square."""

MARKER_MM = 9.0
"""Side of a marker, its black border included."""

MARGIN_MM = 5.0
"""White margin round the board; the card is cut along its outside."""

MARKER_CELLS = 7
"""Cells along a marker's side: five bits and a border of one black cell at each end."""

DICTIONARY_NAME = "DICT_5X5_1000"
"""OpenCV's name of the dictionary that the marker patterns come from."""

MARKERS_PER_CARD = COLUMNS * ROWS // 2
"""One marker in each white square."""

CARD_COUNT = 47
"""Cards are numbered 0 to 46; together they use the ids 0 to 986."""

CORNER_COUNT = (COLUMNS - 1) * (ROWS - 1)
"""Inner corners of the board."""

BOARD_WIDTH_MM = COLUMNS * SQUARE_MM
BOARD_LENGTH_MM = ROWS * SQUARE_MM
CARD_WIDTH_MM = BOARD_WIDTH_MM + 2 * MARGIN_MM
CARD_LENGTH_MM = BOARD_LENGTH_MM + 2 * MARGIN_MM

TAG_SQUARE_MM = 12.0
"""Side of the white square round a clip-on tag's 9 mm marker."""


class Tag(StrEnum):
    """Meaning of a clip-on tag at the end opposite the arrow."""

    FRONT_LEFT = "front left"
    FRONT_RIGHT = "front right"
    REAR_LEFT = "rear left"
    REAR_RIGHT = "rear right"
    REAR_SINGLE = "rear single"
    BEFORE = "before"
    AFTER = "after"


TAGS: dict[int, Tag] = {
    987: Tag.FRONT_LEFT,
    988: Tag.FRONT_RIGHT,
    989: Tag.REAR_LEFT,
    990: Tag.REAR_RIGHT,
    991: Tag.REAR_SINGLE,
    992: Tag.BEFORE,
    993: Tag.AFTER,
}
"""Clip-on tags by marker id; 994 to 999 are spare."""


def corner_mm(k: int) -> tuple[float, float]:
    """Position of inner corner ``k`` = 2 j + i (column i of 2, row j of 13).

    Parameters
    ----------
    k : int
        Corner number as OpenCV's board detector counts, 0 to 25.

    Returns
    -------
    tuple of two float
        x and y in frame ``card``, mm.

    Raises
    ------
    ValueError
        If no such corner exists.

    Examples
    --------
    >>> corner_mm(0), corner_mm(3)
    ((12.0, 12.0), (24.0, 24.0))
    """
    if not 0 <= k < CORNER_COUNT:
        raise ValueError(f"corner {k}: the card has corners 0 to {CORNER_COUNT - 1}")
    j, i = divmod(k, COLUMNS - 1)
    return SQUARE_MM * (i + 1), SQUARE_MM * (j + 1)


def corners_mm() -> np.ndarray:
    """Positions of all inner corners in the order of their numbers.

    Returns
    -------
    ndarray of shape (26, 2)
        x, y in frame ``card``, mm.
    """
    return np.array([corner_mm(k) for k in range(CORNER_COUNT)])


def white_squares() -> list[tuple[int, int]]:
    """Rows and columns of the white squares in the order in which markers are numbered.

    Returns
    -------
    list of 21 tuples (row, column)
        Row by row from the seal end. The square at row 0, column 0 is black.
    """
    return [(row, column) for row in range(ROWS) for column in range(COLUMNS) if (row + column) % 2 == 1]


def marker_quads_mm() -> np.ndarray:
    """Outer corners of the markers, border included.

    Returns
    -------
    ndarray of shape (21, 4, 2)
        x, y in frame ``card``, mm. First axis: marker id minus 21 times the card number. Second axis:
        clockwise as seen on the printed face from the corner nearest the origin.
    """
    inset = (SQUARE_MM - MARKER_MM) / 2
    square = np.array([(0.0, 0.0), (MARKER_MM, 0.0), (MARKER_MM, MARKER_MM), (0.0, MARKER_MM)])
    origins = np.array([(column * SQUARE_MM, row * SQUARE_MM) for row, column in white_squares()])
    return np.asarray(origins[:, None, :] + inset + square[None, :, :])


def card_number(marker_id: int) -> int | None:
    """Return the number of the card that carries a marker.

    Parameters
    ----------
    marker_id : int
        Id in DICT_5X5_1000.

    Returns
    -------
    int or None
        0 to 46, or None for an id that is on no card (clip-on tags, spare ids).

    Examples
    --------
    >>> card_number(41), card_number(42), card_number(987)
    (1, 2, None)
    """
    number = marker_id // MARKERS_PER_CARD
    return number if 0 <= number < CARD_COUNT else None


def marker_ids(number: int) -> range:
    """Ids of the markers on one card, in the board's own order.

    Parameters
    ----------
    number : int
        Card number, 0 to 46.

    Returns
    -------
    range
        21 consecutive ids.

    Raises
    ------
    ValueError
        If no such card exists.

    Examples
    --------
    >>> marker_ids(2)
    range(42, 63)
    """
    if not 0 <= number < CARD_COUNT:
        raise ValueError(f"card {number}: cards are numbered 0 to {CARD_COUNT - 1}")
    return range(number * MARKERS_PER_CARD, (number + 1) * MARKERS_PER_CARD)


def outline_mm() -> np.ndarray:
    """Corners of the cut card, margin included.

    Returns
    -------
    ndarray of shape (4, 2)
        x, y in frame ``card``, mm; clockwise as seen on the printed face, seal end first.
    """
    left, top = -MARGIN_MM, -MARGIN_MM
    right, bottom = BOARD_WIDTH_MM + MARGIN_MM, BOARD_LENGTH_MM + MARGIN_MM
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])

"""Drawing of one card: squares and markers, arrow, number, and its owner's label."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calibration import card
from calibration.markers import marker_dictionary

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np

    from calibration.pen import Pen, Rect

CUT_LINE_MM = 0.1
LABEL_MM = 20.0
"""Width left for a label beside “CARD 46” in the margin."""


def marker_cells(marker_id: int) -> np.ndarray:
    """Pattern of a marker, its black border included.

    Parameters
    ----------
    marker_id : int
        Id in DICT_5X5_1000.

    Returns
    -------
    ndarray of bool, shape (7, 7)
        True where a cell is black; row 0 at the top.
    """
    import cv2

    # One pixel per cell: nothing is resampled, so this is the pattern itself.
    return cv2.aruco.generateImageMarker(marker_dictionary(), marker_id, card.MARKER_CELLS) < 128


def black_rects_mm(number: int) -> Iterator[Rect]:
    """Black areas of one card's board as rectangles, runs of cells in a row merged.

    Parameters
    ----------
    number : int
        Card number, 0 to 46.

    Yields
    ------
    tuple (x, y, width, height)
        mm in frame ``card``.
    """
    square = card.SQUARE_MM
    white = set(card.white_squares())
    for row in range(card.ROWS):
        for column in range(card.COLUMNS):
            if (row, column) not in white:
                yield column * square, row * square, square, square
    cell = card.MARKER_MM / card.MARKER_CELLS
    for marker_id, quad in zip(card.marker_ids(number), card.marker_quads_mm(), strict=True):
        x, y = (float(value) for value in quad[0])
        for row, cells in enumerate(marker_cells(marker_id)):
            column = 0
            while column < card.MARKER_CELLS:
                run = column
                while run < card.MARKER_CELLS and cells[run]:
                    run += 1
                if run > column:
                    yield x + column * cell, y + row * cell, (run - column) * cell, cell
                column = max(run, column + 1)


@dataclass(frozen=True)
class Label:
    """The owner's label on a card.

    Attributes
    ----------
    text : str
        One line; reduced in size, then truncated, to fit.
    font : str
        A font registered with reportlab that has all its letters.
    shaped_by : Path, optional
        A font file instead, for scripts whose letters join or run from right to left.
    """

    text: str
    font: str = "Helvetica-Bold"
    shaped_by: Path | None = None

    def write(self, pen: Pen, right_mm: tuple[float, float], *, width_mm: float, size_pt: float) -> None:
        """Write it right-aligned, see `Pen.fitted`."""
        if self.shaped_by is None:
            pen.fitted(right_mm, self.text, width_mm=width_mm, size_pt=size_pt, font=self.font)
        else:
            pen.fitted_shaped(right_mm, self.text, width_mm=width_mm, size_pt=size_pt, file=self.shaped_by)


def draw_card(pen: Pen, number: int, at_mm: tuple[float, float], label: Label | None = None) -> None:
    """Draw one card with its cutting line.

    Parameters
    ----------
    pen : Pen
    number : int
        Card number, 0 to 46.
    at_mm : tuple of two float
        Top-left corner of the cut card on the page.
    label : Label, optional
        Written in the margin beside the number, and larger above the card, for handing out.
    """
    x0, y0 = at_mm[0] + card.MARGIN_MM, at_mm[1] + card.MARGIN_MM
    pen.grey(0.6)
    pen.outline((*at_mm, card.CARD_WIDTH_MM, card.CARD_LENGTH_MM), width_mm=CUT_LINE_MM)
    pen.grey(0.0)
    pen.areas((x0 + x, y0 + y, width, height) for x, y, width, height in black_rects_mm(number))
    middle = x0 + card.BOARD_WIDTH_MM / 2
    # The margin is 5 mm: 1.2 mm of white beside the board, 0.6 mm beside the cut.
    arrow = [(0.0, -4.4), (2.6, -2.4), (0.9, -2.4), (0.9, -1.2), (-0.9, -1.2), (-0.9, -2.4), (-2.6, -2.4)]
    pen.shape((middle + x, y0 + y) for x, y in arrow)
    pen.text((x0 + 6, y0 - 1.9), "SEAL END", size_pt=5.5, align="middle")
    pen.text((x0 + card.BOARD_WIDTH_MM - 6, y0 - 1.9), "SEAL END", size_pt=5.5, align="middle")
    foot = y0 + card.BOARD_LENGTH_MM + 3.6
    pen.text((x0, foot), f"CARD {number}", size_pt=9, bold=True)
    right = x0 + card.BOARD_WIDTH_MM
    if label is None:
        pen.text((right, foot), "squares 12.00 mm", size_pt=5.5, align="right")
        return
    label.write(pen, (right, foot), width_mm=LABEL_MM, size_pt=8)
    above = (at_mm[0] + card.CARD_WIDTH_MM, at_mm[1] - 1.2)
    label.write(pen, above, width_mm=card.CARD_WIDTH_MM, size_pt=9)

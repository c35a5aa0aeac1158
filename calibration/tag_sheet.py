"""The sheet of clip-on tags: single markers that identify the leg in a photo, and before or after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calibration import card
from calibration.card_drawing import CUT_LINE_MM, marker_cells
from calibration.sheet_layout import MARGIN_END_MM, MARGIN_SIDE_MM

if TYPE_CHECKING:
    from calibration.pen import Pen
    from calibration.sheet_layout import Paper

SETS_ON_A_SHEET = 7
"""Rows that fit on US letter, the lower paper."""

TAB_MM = 16.0
"""Paper below the square, with its text, for the clip to hold."""

_COLUMN_MM = 27.0
_ROW_MM = 32.0
_TOP_MM = MARGIN_END_MM + 16.0
_HOW = (
    "Cut along the grey lines and stick on something stiff. Clip a leg's tag, and “before” or “after”, to the end of "
    "the card opposite the arrow, with the whole white square visible."
)


def tag_places_mm(sets: int) -> list[tuple[int, float, float]]:
    """Positions of the white squares.

    Parameters
    ----------
    sets : int
        1 to 7.

    Returns
    -------
    list of (id, x, y)
        Marker id, and the square's top-left corner, mm from the paper's.
    """
    return [
        (number, MARGIN_SIDE_MM + column * _COLUMN_MM, _TOP_MM + row * _ROW_MM)
        for row in range(sets)
        for column, number in enumerate(card.TAGS)
    ]


def draw_tags(pen: Pen, paper: Paper, sets: int) -> None:
    """Draw sets of tags on one page.

    Parameters
    ----------
    pen : Pen
    paper : Paper
    sets : int
        1 to 7.
    """
    pen.grey(0.0)
    pen.text((MARGIN_SIDE_MM, MARGIN_END_MM + 4.5), "Clip-on tags", size_pt=15, bold=True)
    width_mm = paper.width_mm - 2 * MARGIN_SIDE_MM
    pen.paragraph((MARGIN_SIDE_MM, MARGIN_END_MM + 6.0), width_mm, _HOW, size_pt=8.5)
    cell = card.MARKER_MM / card.MARKER_CELLS
    inset = (card.TAG_SQUARE_MM - card.MARKER_MM) / 2
    for number, x, y in tag_places_mm(sets):
        pen.grey(0.6)
        pen.outline((x, y, card.TAG_SQUARE_MM, card.TAG_SQUARE_MM + TAB_MM), width_mm=CUT_LINE_MM)
        pen.grey(0.0)
        cells = marker_cells(number)
        pen.areas(
            (x + inset + column * cell, y + inset + row * cell, cell, cell)
            for row in range(card.MARKER_CELLS)
            for column in range(card.MARKER_CELLS)
            if cells[row, column]
        )
        for line, word in enumerate(card.TAGS[number].value.split()):
            middle = (x + card.TAG_SQUARE_MM / 2, y + card.TAG_SQUARE_MM + 3.5 + 3.2 * line)
            pen.text(middle, word, size_pt=8, bold=True, align="middle")

"""The paper, and where things lie on one printed sheet.

Places are in mm from the paper's top-left corner, x right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from calibration import card

if TYPE_CHECKING:
    from calibration.pen import Rect

BAR_LENGTH_MM = 100.0
"""Check bar: long enough that a caliper's 0.03 mm is 0.03 %, short enough for any caliper."""

BAR_THICK_MM = 3.0
"""Thick enough that a caliper's jaws find both ends."""

ID1_MM = (85.60, 53.98)
"""Width and height of a bank card: ISO/IEC 7810, size ID-1."""

ID1_RADIUS_MM = 3.18
"""Its corner radius: ISO/IEC 7810, from memory. Nothing is measured on it."""

CHECK_LINE_MM = 0.2
"""Width of the bank-card outline's line."""

MARGIN_SIDE_MM = 10.0
MARGIN_END_MM = 12.0
"""Office printers leave 4 to 6 mm at the sides and up to 12.7 mm at one end unprinted (common practice,
no source); only text comes closer than 12.7 mm to an end."""

CARD_GAP_MM = 6.0
CARDS_PER_SHEET = 2


@dataclass(frozen=True)
class Paper:
    """A paper size, mm, upright."""

    name: str
    width_mm: float
    height_mm: float


PAPERS = {
    "a4": Paper("A4", 210.0, 297.0),  # ISO 216
    "letter": Paper("US letter", 215.9, 279.4),  # ANSI/ASME Y14.1, size A: 8.5 x 11 in
}


@dataclass(frozen=True)
class SheetLayout:
    """Positions of the parts of one sheet, mm from the paper's top-left corner, y down.

    Attributes
    ----------
    cards : tuple of (x, y)
        Top-left corner of each cut card (margin included). The arrow points up the page.
    bar_across, bar_along : tuple (x, y, width, height)
        The check bars, across and along the cards.
    id1 : tuple (x, y, width, height)
        The bank-card outline, along the centre of its line.
    instructions : tuple (x, y, width, height)
        The column of instructions.
    picture : tuple (x, y, width, height)
        The drawing of how to lay the card.
    """

    paper: Paper
    cards: tuple[tuple[float, float], ...]
    bar_across: Rect
    bar_along: Rect
    id1: Rect
    instructions: Rect
    picture: Rect


def sheet_layout(paper: Paper) -> SheetLayout:
    """Lay out one sheet.

    Parameters
    ----------
    paper : Paper
        A4, US letter or larger.

    Returns
    -------
    SheetLayout
    """
    used_width = (card.CARD_WIDTH_MM + CARD_GAP_MM) * CARDS_PER_SHEET + ID1_MM[0]
    left = (paper.width_mm - used_width) / 2
    right = left + used_width
    top = MARGIN_END_MM + 9.0
    cards = tuple((left + n * (card.CARD_WIDTH_MM + CARD_GAP_MM), top) for n in range(CARDS_PER_SHEET))
    column = right - ID1_MM[0]
    below_cards = top + card.CARD_LENGTH_MM
    # Space left at the foot after bar, label and outline is split evenly above and below the bar.
    id1_y = paper.height_mm - MARGIN_END_MM - 1.4 - ID1_MM[1]
    bar_y = below_cards + (id1_y - below_cards - BAR_THICK_MM - 4.0) / 2
    return SheetLayout(
        paper=paper,
        cards=cards,
        bar_across=(left, bar_y, BAR_LENGTH_MM, BAR_THICK_MM),
        bar_along=(right - BAR_THICK_MM, top, BAR_THICK_MM, BAR_LENGTH_MM),
        id1=(left, id1_y, *ID1_MM),
        instructions=(column, top, ID1_MM[0] - BAR_THICK_MM - 8.0, card.CARD_LENGTH_MM),
        picture=(column, id1_y - 4.0, ID1_MM[0], ID1_MM[1] + 4.0),
    )

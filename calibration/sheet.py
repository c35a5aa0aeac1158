"""The printed sheet: two scale cards, what is needed to check the print, and how to use them.

Everything is drawn as vectors. Places are in mm from the paper's top-left corner, x right, y down.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calibration import card
from calibration.card_drawing import Label, draw_card
from calibration.errors import CalibrationError

if TYPE_CHECKING:
    from calibration.pen import Rect

BAR_LENGTH_MM = 100.0
"""Check bar: long enough that a caliper's 0.03 mm is 0.03 %, short enough for any caliper."""

BAR_THICK_MM = 3.0
"""Thick enough that a caliper's jaws find both ends."""

ID1_MM = (85.60, 53.98)
"""Width and height of a bank card: ISO/IEC 7810, size ID-1."""

ID1_RADIUS_MM = 3.18
"""Its corner radius: ISO/IEC 7810, from memory. Only the look depends on it."""

CHECK_LINE_MM = 0.2

MARGIN_SIDE_MM = 10.0
MARGIN_END_MM = 12.0
"""Office printers leave 4 to 6 mm at the sides and up to 12.7 mm at one end unprinted (common practice,
no source); only words come closer than 12.7 mm to an end."""

CARD_GAP_MM = 6.0
CARDS_PER_SHEET = 2


class SheetError(CalibrationError):
    """The sheet that was asked for cannot be drawn."""


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
    """Where things lie on one sheet, mm from the paper's top-left corner, y down.

    Attributes
    ----------
    cards : tuple of (x, y)
        Top-left corner of each cut card (margin included). The arrow points up the page.
    bar_across, bar_along : tuple (x, y, width, height)
        The check bars, across and along the cards.
    id1 : tuple (x, y, width, height)
        The bank-card outline; the middle of its line.
    words : tuple (x, y, width, height)
        The column of instructions.
    picture : tuple (x, y, width, height)
        The drawing of how to lay the card.
    """

    paper: Paper
    cards: tuple[tuple[float, float], ...]
    bar_across: Rect
    bar_along: Rect
    id1: Rect
    words: Rect
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
    # What is left at the foot after bar, its label and the outline is shared out as air.
    id1_y = paper.height_mm - MARGIN_END_MM - 1.4 - ID1_MM[1]
    bar_y = below_cards + (id1_y - below_cards - BAR_THICK_MM - 4.0) / 2
    return SheetLayout(
        paper=paper,
        cards=cards,
        bar_across=(left, bar_y, BAR_LENGTH_MM, BAR_THICK_MM),
        bar_along=(right - BAR_THICK_MM, top, BAR_THICK_MM, BAR_LENGTH_MM),
        id1=(left, id1_y, *ID1_MM),
        words=(column, top, ID1_MM[0] - BAR_THICK_MM - 8.0, card.CARD_LENGTH_MM),
        picture=(column, id1_y - 4.0, ID1_MM[0], ID1_MM[1] + 4.0),
    )


def parse_numbers(text: str) -> tuple[int, ...]:
    """Read card numbers such as ``0-5,7``.

    Parameters
    ----------
    text : str
        Numbers and ranges with commas between.

    Returns
    -------
    tuple of int
        In the order given, each once.

    Raises
    ------
    SheetError
        If it cannot be understood or there is no such card.

    Examples
    --------
    >>> parse_numbers("0-2, 7")
    (0, 1, 2, 7)
    """
    example = "Write numbers and ranges with commas between, for example 0-5,7."
    numbers: list[int] = []
    for part in text.split(","):
        found = re.fullmatch(r"\s*([0-9]{1,4})\s*(?:[-–]\s*([0-9]{1,4})\s*)?", part)
        if not found:
            raise SheetError(f"Card numbers {text!r} cannot be understood.", example)
        first, last = int(found[1]), int(found[2] or found[1])
        if last < first:
            raise SheetError(f"The range {part.strip()!r} runs backwards.", f"Write it as {last}-{first}.")
        if last >= card.CARD_COUNT:
            raise SheetError(
                f"There is no card {last}.", f"Choose from the cards 0 to {card.CARD_COUNT - 1}."
            )
        numbers.extend(range(first, last + 1))
    return tuple(dict.fromkeys(numbers))


def draw_sheets(
    numbers: Sequence[int], paper: Paper, labels: Sequence[Label] | None = None, *, tag_sets: int = 0
) -> bytes:
    """Draw all sheets.

    Parameters
    ----------
    numbers : sequence of int
        Card numbers, 0 to 46, two to a sheet; the same one twice where it is used twice.
    paper : Paper
    labels : sequence of Label, optional
        Whose each card is, one a number.
    tag_sets : int
        Sets of clip-on tags on a sheet behind the cards, see `calibration.tag_sheet`.

    Returns
    -------
    bytes
        A PDF; the same for the same request.

    Raises
    ------
    SheetError
        If no card is asked for.
    """
    from reportlab.pdfgen.canvas import Canvas

    from calibration.pen import POINTS_PER_MM, Pen
    from calibration.sheet_words import draw_how_to_lay, draw_print_check, draw_steps
    from calibration.tag_sheet import draw_tags

    if not numbers and not tag_sets:
        raise SheetError("No card is asked for.", "Name at least one card, for example 0.")
    layout = sheet_layout(paper)
    stream = io.BytesIO()
    size_pt = (paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM)
    canvas = Canvas(stream, pagesize=size_pt, invariant=1)
    canvas.setTitle("Scale cards")
    canvas.setCreator("strandline")
    canvas.setViewerPreference("PrintScaling", "None")  # asks the viewer not to fit to page
    pen = Pen(canvas, paper.height_mm)
    sheets = [numbers[n : n + CARDS_PER_SHEET] for n in range(0, len(numbers), CARDS_PER_SHEET)]
    for page, on_sheet in enumerate(sheets, start=1):
        pen.grey(0.0)
        right = layout.words[0] + ID1_MM[0]
        pen.text((layout.cards[0][0], MARGIN_END_MM + 4.5), "Scale card", size_pt=15, bold=True)
        pen.text((layout.words[0], MARGIN_END_MM + 4.5), "Print at 100 %", size_pt=15, bold=True)
        pen.text(
            (right, MARGIN_END_MM + 4.5),
            f"{paper.name} · sheet {page} of {len(sheets)}",
            size_pt=8,
            align="right",
        )
        for place, (number, at_mm) in enumerate(zip(on_sheet, layout.cards, strict=False)):
            whose = None if labels is None else labels[(page - 1) * CARDS_PER_SHEET + place]
            draw_card(pen, number, at_mm, whose)
        draw_print_check(pen, layout)
        draw_steps(pen, layout)
        draw_how_to_lay(pen, layout)
        canvas.showPage()
    if tag_sets:
        draw_tags(pen, paper, tag_sets)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()

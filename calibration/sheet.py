"""The printed sheet: two scale cards, bars to check the print, and instructions; drawn as vectors."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

from calibration import card
from calibration.card_drawing import Label, draw_card
from calibration.errors import CalibrationError
from calibration.sheet_layout import CARDS_PER_SHEET, ID1_MM, MARGIN_END_MM, Paper, sheet_layout


class SheetError(CalibrationError):
    """The requested sheet cannot be drawn."""


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
        Card numbers, 0 to 46, two to a sheet; repeat a number to print it twice.
    paper : Paper
    labels : sequence of Label, optional
        Owner of each card, one per number.
    tag_sets : int
        Sets of clip-on tags on a last sheet, see `calibration.tag_sheet`.

    Returns
    -------
    bytes
        A PDF; byte-identical for equal arguments.

    Raises
    ------
    SheetError
        If neither a card nor a tag is requested.
    """
    from reportlab.pdfgen.canvas import Canvas

    from calibration.pen import POINTS_PER_MM, Pen
    from calibration.sheet_text import draw_how_to_lay, draw_print_check, draw_steps
    from calibration.tag_sheet import draw_tags

    if not numbers and not tag_sets:
        raise SheetError("No card was requested.", "Name at least one card, for example 0.")
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
        right = layout.instructions[0] + ID1_MM[0]
        pen.text((layout.cards[0][0], MARGIN_END_MM + 4.5), "Scale card", size_pt=15, bold=True)
        pen.text((layout.instructions[0], MARGIN_END_MM + 4.5), "Print at 100 %", size_pt=15, bold=True)
        pen.text(
            (right, MARGIN_END_MM + 4.5),
            f"{paper.name} · sheet {page} of {len(sheets)}",
            size_pt=8,
            align="right",
        )
        for place, (number, at_mm) in enumerate(zip(on_sheet, layout.cards, strict=False)):
            label = None if labels is None else labels[(page - 1) * CARDS_PER_SHEET + place]
            draw_card(pen, number, at_mm, label)
        draw_print_check(pen, layout)
        draw_steps(pen, layout)
        draw_how_to_lay(pen, layout)
        canvas.showPage()
    if tag_sets:
        draw_tags(pen, paper, tag_sets)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()

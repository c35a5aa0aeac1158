"""Text and drawings of the printed sheet: print check, numbered steps, how to lay the card."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calibration.card import MARGIN_MM, SQUARE_MM
from calibration.sheet_layout import CHECK_LINE_MM, ID1_RADIUS_MM, SheetLayout

if TYPE_CHECKING:
    from calibration.pen import Pen

STEPS = (
    (
        "Print",
        "Choose 100 % or “actual size”. Turn “fit to page” off. Use plain matt paper: "
        "glossy paper reflects and hides the squares.",
    ),
    (
        "Check",
        "Measure both black bars end to end with a caliper, to 0.1 mm, and type"
        '<br/><font name="Courier-Bold">strandline card --check</font><br/>'
        "It asks for both, says what to do when they are off, and keeps the scale for reading. "
        "No caliper? Lay any bank card on the outline below. If it fits, the print can be used, less exactly; "
        "if not, print again.",
    ),
    (
        "Stick",
        "Glue the sheet flat on something stiff: thin plywood, hard plastic, aluminium. Then cut along the "
        "grey lines. Keep the white margin. A curled card gives a wrong scale.",
    ),
    (
        "Mark",
        "A snug cable tie or O-ring round the bare shaft, its lock away from the seal. Slide it <b>to the seal</b> "
        "before the ride; the ride pushes it along.",
    ),
    (
        "Lay",
        "Long edge parallel to the shaft and close beside it, arrow towards the seal, printed face to the camera. "
        "The face must be level with the shaft’s <b>centre line</b>, within a few mm: not in front of the "
        "shaft, not behind it. Hold the card by its margin, or tape it there.",
    ),
    (
        "Photograph",
        "Stand square-on. Have the whole card, the seal, the marker and the far end in the photo, "
        "sharp and in even light, without flash. Do not crop or edit the photo; use the original file.",
    ),
    (
        "Read",
        'Once <font name="Courier-Bold">strandline bike new</font>; then after each ride'
        '<br/><font name="Courier-Bold">strandline read photo.jpg</font>',
    ),
)


def draw_steps(pen: Pen, layout: SheetLayout) -> None:
    """Write the numbered steps into their column."""
    x, y, width, height = layout.instructions
    indent = 7.0
    bottom = y + height
    for number, (heading, words) in enumerate(STEPS, start=1):
        pen.grey(0.0)
        pen.text((x, y + 4.0), str(number), size_pt=15, bold=True)
        y += pen.paragraph((x + indent, y), width - indent, f"<b>{heading}.</b> {words}", size_pt=9.0) + 3.4
    if y > bottom:
        raise AssertionError("the steps do not fit into their column")


def draw_print_check(pen: Pen, layout: SheetLayout) -> None:
    """Draw both 100 mm bars and the bank-card outline."""
    pen.grey(0.0)
    pen.areas([layout.bar_across])
    x, y, width, thick = layout.bar_across
    pen.text((x + width / 2, y + thick + 2.9), "across the card: 100.0 mm", size_pt=7, align="middle")
    pen.areas([layout.bar_along])
    x, y, _, length = layout.bar_along
    pen.text((x - 1.2, y + length / 2), "along the card: 100.0 mm", size_pt=7, align="middle", turned=True)
    pen.outline(layout.id1, width_mm=CHECK_LINE_MM, radius_mm=ID1_RADIUS_MM)
    x, y, width, _ = layout.id1
    pen.paragraph(
        (x + 8, y + 17),
        width - 16,
        "<b>Lay any bank card here.</b> Its edge must run along the middle of this line all round: "
        "85.60 × 53.98 mm (ISO/IEC 7810, ID-1). A visible gap or overlap means that the "
        "printer has changed the scale.",
    )


def draw_how_to_lay(pen: Pen, layout: SheetLayout) -> None:
    """Draw the card beside a shaft, as the camera sees it and along the shaft."""
    x, y, _, height = layout.picture
    pen.grey(0.0)
    pen.text((x, y + 2.2), "As the camera sees it", size_pt=7.5, bold=True)
    pen.text((x + 50, y + 2.2), "Looking along the shaft", size_pt=7.5, bold=True)
    _draw_front_view(pen, x, y + 5, height - 5)
    _draw_end_views(pen, x + 50, y + 5)


def _draw_front_view(pen: Pen, x: float, y: float, height: float) -> None:
    axis = x + 27
    seal, marker, far = y + 11, y + 26, y + height - 8
    pen.canvas.setFillGray(0.85)
    pen.canvas.setStrokeGray(0.2)
    pen.outline((axis - 3.5, seal, 7, far - seal), width_mm=0.25, fill=True)
    pen.canvas.setFillGray(0.6)
    pen.outline((axis - 6, y, 12, seal - y), width_mm=0.25, fill=True)
    pen.outline((axis - 7, far, 14, y + height - far), width_mm=0.25, fill=True)
    pen.canvas.setFillGray(0.1)
    pen.outline((axis - 4.3, marker, 8.6, 1.8), width_mm=0.1, radius_mm=0.5, fill=True)
    pen.canvas.setFillGray(1.0)
    # The card to scale, without its text: its margin is 5/12 of a square.
    square = 2.6
    margin = square * MARGIN_MM / SQUARE_MM
    left, top = axis + 8.0, y + 6.5
    pen.outline((left, top, 3 * square + 2 * margin, 14 * square + 2 * margin), width_mm=0.25, fill=True)
    pen.grey(0.0)
    pen.areas(
        (left + margin + column * square, top + margin + row * square, square, square)
        for row in range(14)
        for column in range(3)
        if (row + column) % 2 == 0
    )
    middle = left + margin + 1.5 * square
    pen.shape([(middle, top + 0.15), (middle + 0.7, top + 0.85), (middle - 0.7, top + 0.85)])
    # A second, larger arrow: the direction is the most common mistake.
    pen.areas([(middle - 0.35, top - 4.0, 0.7, 3.0)])
    pen.shape([(middle, top - 6.4), (middle + 1.7, top - 3.8), (middle - 1.7, top - 3.8)])
    # Where the marker is set before the ride: dashed, with an arrow along which the ride pushes it.
    pen.grey(0.2)
    for edge in (seal + 0.5, seal + 2.3):
        pen.line((axis - 4.3, edge), (axis + 4.3, edge), width_mm=0.25, dash_mm=0.7)
    pen.line((axis, seal + 3.2), (axis, marker - 2.6), width_mm=0.3)
    pen.shape([(axis, marker - 0.8), (axis + 1.1, marker - 2.8), (axis - 1.1, marker - 2.8)])
    labels = (
        (("seal",), seal - 1.6, 6.6),
        (("tie or O-ring", "before the ride"), seal + 3.0, 5.0),
        (("after the ride",), marker + 0.9, 5.0),
        (("far end",), far, 7.6),
    )
    for lines, at, gap in labels:
        pen.grey(0.0)
        for row, text in enumerate(lines):
            pen.text((x + 16.5, at + 0.9 + 2.6 * row), text, size_pt=6.5, align="right")
        pen.grey(0.4)
        pen.line((x + 17.2, at), (axis - gap, at), width_mm=0.15)
    pen.grey(0.0)


def _draw_end_views(pen: Pen, x: float, y: float) -> None:
    """Draw the right lay, and one wrong lay with a cross through it: the card in front of the shaft."""
    radius = 5.5
    for right, centre in ((True, (x + 8, y + 9.5)), (False, (x + 8, y + 26))):
        pen.canvas.setFillGray(0.85)
        pen.canvas.setStrokeGray(0.2)
        pen.circle(centre, radius)
        pen.grey(0.4)
        pen.line((centre[0] - radius - 1.5, centre[1]), (x + 33, centre[1]), width_mm=0.15, dash_mm=0.8)
        # The printed face is the side towards the camera, on the dashed line; the backing lies behind it.
        left = centre[0] + radius + 1.5
        face = centre[1] if right else centre[1] + radius + 2.0
        pen.canvas.setFillGray(0.75)
        pen.outline((left, face - 1.6, 12, 1.6), width_mm=0.1, fill=True)
        pen.grey(0.0)
        pen.line((left, face), (left + 12, face), width_mm=0.6)
        if right:
            pen.text((left + 6, face - 2.4), "stiff backing", size_pt=6.5, align="middle")
            pen.text((left + 6, face + 3.4), "printed face", size_pt=6.5, align="middle")
            pen.text((centre[0], centre[1] - radius - 1.2), "shaft", size_pt=6.5, align="middle")
        else:
            pen.line((left, face - 4.5), (left + 12, face + 3.0), width_mm=0.5)
            pen.line((left, face + 3.0), (left + 12, face - 4.5), width_mm=0.5)
            pen.text((left, centre[1] - 1.4), "wrong: in front", size_pt=6.5, bold=True)
    camera = (x + 8, y + 46)
    pen.line((camera[0], camera[1] - 4), (camera[0], camera[1] - 9), width_mm=0.25)
    pen.shape((camera[0] + dx, camera[1] - 9 + dy) for dx, dy in ((0.0, -2.2), (1.3, 0.0), (-1.3, 0.0)))
    pen.outline((camera[0] - 6.5, camera[1] - 2.2, 13, 2.2), width_mm=0.3, radius_mm=0.7)
    pen.areas([(camera[0] - 1.6, camera[1] - 3.0, 3.2, 0.8)])
    pen.text((camera[0] - 6.5, camera[1] + 3.4), "camera, square-on", size_pt=6.5)

"""Drawing on a PDF page in mm from the paper's top-left corner, y down."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from reportlab.pdfgen.canvas import Canvas

POINTS_PER_MM = 72 / 25.4
SMALLEST_SIZE = 0.6
"""Smallest share of its size to which a line is reduced before it is truncated: 8 pt become 4.8 pt, still legible."""
SHAPED_PX = 100
"""Size at which text is laid out as a bitmap: 800 px/in at 9 pt, finer than office printers print."""

Rect = tuple[float, float, float, float]
"""x, y of the top-left corner, width, height, mm from the paper's top-left corner."""


class Pen:
    """A page measured in mm, origin at its top-left corner, x right, y down.

    Parameters
    ----------
    canvas : reportlab Canvas
        The open PDF.
    height_mm : float
        Height of the paper, mm.
    """

    def __init__(self, canvas: Canvas, height_mm: float) -> None:
        self.canvas = canvas
        self.height_mm = height_mm

    def x(self, x_mm: float) -> float:
        """PDF abscissa, points."""
        return x_mm * POINTS_PER_MM

    def y(self, y_mm: float) -> float:
        """PDF ordinate, points; the PDF counts from the bottom."""
        return (self.height_mm - y_mm) * POINTS_PER_MM

    def grey(self, level: float) -> None:
        """Set the grey level of lines and areas: 0 black, 1 white."""
        self.canvas.setFillGray(level)
        self.canvas.setStrokeGray(level)

    def areas(self, rects: Iterable[Rect]) -> None:
        """Fill rectangles as one shape.

        One path with one fill leaves no hairline between rectangles that share an edge; separate fills do where
        an edge falls inside a device pixel.
        """
        path = self.canvas.beginPath()
        for x_mm, y_mm, width_mm, height_mm in rects:
            path.rect(
                self.x(x_mm), self.y(y_mm + height_mm), width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM
            )
        self.canvas.drawPath(path, stroke=0, fill=1)

    def shape(self, points_mm: Iterable[tuple[float, float]], *, fill: bool = True) -> None:
        """Draw a closed polygon."""
        first, *rest = points_mm
        path = self.canvas.beginPath()
        path.moveTo(self.x(first[0]), self.y(first[1]))
        for x_mm, y_mm in rest:
            path.lineTo(self.x(x_mm), self.y(y_mm))
        path.close()
        self.canvas.drawPath(path, stroke=0 if fill else 1, fill=1 if fill else 0)

    def line(
        self,
        start_mm: tuple[float, float],
        end_mm: tuple[float, float],
        *,
        width_mm: float = 0.2,
        dash_mm: float = 0.0,
    ) -> None:
        """Draw a straight line, dashed where ``dash_mm`` is not 0."""
        self.canvas.setLineWidth(width_mm * POINTS_PER_MM)
        self.canvas.setDash([dash_mm * POINTS_PER_MM] * 2 if dash_mm else [])
        self.canvas.line(self.x(start_mm[0]), self.y(start_mm[1]), self.x(end_mm[0]), self.y(end_mm[1]))

    def outline(
        self, rect: Rect, *, width_mm: float, radius_mm: float = 0.0, dash_mm: float = 0.0, fill: bool = False
    ) -> None:
        """Draw a rectangle's border; the line's centre lies on the rectangle."""
        x_mm, y_mm, rect_width_mm, rect_height_mm = rect
        self.canvas.setLineWidth(width_mm * POINTS_PER_MM)
        self.canvas.setDash([dash_mm * POINTS_PER_MM] * 2 if dash_mm else [])
        self.canvas.roundRect(
            self.x(x_mm),
            self.y(y_mm + rect_height_mm),
            rect_width_mm * POINTS_PER_MM,
            rect_height_mm * POINTS_PER_MM,
            radius_mm * POINTS_PER_MM,
            stroke=1,
            fill=1 if fill else 0,
        )

    def circle(self, centre_mm: tuple[float, float], radius_mm: float, *, width_mm: float = 0.3) -> None:
        """Draw a circle's border over a disc filled with the current colour."""
        self.canvas.setLineWidth(width_mm * POINTS_PER_MM)
        self.canvas.setDash([])
        self.canvas.circle(
            self.x(centre_mm[0]), self.y(centre_mm[1]), radius_mm * POINTS_PER_MM, stroke=1, fill=1
        )

    def text(
        self,
        at_mm: tuple[float, float],
        text: str,
        *,
        size_pt: float = 8,
        bold: bool = False,
        align: str = "left",
        turned: bool = False,
    ) -> None:
        """Write one line; ``at_mm`` is the left end, middle or right end of its baseline.

        ``turned`` writes it upwards, its baseline on the right.
        """
        canvas = self.canvas
        canvas.saveState()
        canvas.translate(self.x(at_mm[0]), self.y(at_mm[1]))
        if turned:
            canvas.rotate(90)
        canvas.setFont("Helvetica-Bold" if bold else "Helvetica", size_pt)
        write = {
            "left": canvas.drawString,
            "middle": canvas.drawCentredString,
            "right": canvas.drawRightString,
        }
        write[align](0, 0, text)
        canvas.restoreState()

    def fitted(
        self, right_mm: tuple[float, float], text: str, *, width_mm: float, size_pt: float, font: str
    ) -> None:
        """Write one right-aligned line, reduced in size and then truncated where it is too long.

        Parameters
        ----------
        right_mm : tuple of two float
            Right end of the baseline.
        text : str
        width_mm : float
            Available width.
        size_pt : float
            The largest size; the smallest is `SMALLEST_SIZE` of it.
        font : str
            Name of a registered font.
        """
        from reportlab.pdfbase.pdfmetrics import stringWidth

        room_pt = width_mm * POINTS_PER_MM
        width_pt = stringWidth(text, font, size_pt)
        size_pt *= max(SMALLEST_SIZE, min(1.0, room_pt / width_pt if width_pt else 1.0))
        shown = text
        while shown and stringWidth(shown, font, size_pt) > room_pt:
            shown = shown.rstrip("…")[:-1] + ("…" if len(shown) > 1 else "")
        canvas = self.canvas
        canvas.saveState()
        canvas.setFont(font, size_pt)
        canvas.drawRightString(self.x(right_mm[0]), self.y(right_mm[1]), shown)
        canvas.restoreState()

    def fitted_shaped(
        self, right_mm: tuple[float, float], text: str, *, width_mm: float, size_pt: float, file: Path
    ) -> None:
        """Write as `fitted`, for joined or right-to-left scripts: Pillow lays the text out as a bitmap.

        Parameters
        ----------
        right_mm, text, width_mm, size_pt
            See `fitted`.
        file : Path
            A font file with all letters of the text.
        """
        from PIL import Image, ImageDraw, ImageFont
        from reportlab.lib.utils import ImageReader

        font = ImageFont.truetype(file, SHAPED_PX, layout_engine=ImageFont.Layout.RAQM)
        room_px = width_mm * POINTS_PER_MM / size_pt * SHAPED_PX
        shown = text
        while shown and font.getlength(shown) * SMALLEST_SIZE > room_px:
            shown = shown.rstrip("…")[:-1] + ("…" if len(shown) > 1 else "")
        if not shown:
            return
        left, top, right, bottom = font.getbbox(shown, anchor="ls")
        picture = Image.new("L", (round(right - left) + 1, round(bottom - top) + 1), 255)
        ImageDraw.Draw(picture).text((-left, -top), shown, fill=0, font=font, anchor="ls")
        pt_per_px = size_pt / SHAPED_PX * min(1.0, room_px / font.getlength(shown))
        width_pt, height_pt = (pt_per_px * length for length in picture.size)
        self.canvas.drawImage(
            ImageReader(picture),
            self.x(right_mm[0]) - width_pt,
            self.y(right_mm[1]) - pt_per_px * bottom,
            width_pt,
            height_pt,
        )

    def paragraph(
        self, at_mm: tuple[float, float], width_mm: float, markup: str, *, size_pt: float = 8.6
    ) -> float:
        """Write wrapped text.

        Parameters
        ----------
        at_mm : tuple of two float
            Top-left corner.
        width_mm : float
        markup : str
            Text with reportlab's ``<b>`` and ``<font>``.
        size_pt : float

        Returns
        -------
        float
            Height of the text, mm.
        """
        from reportlab.lib.styles import ParagraphStyle
        from reportlab.platypus import Paragraph

        style = ParagraphStyle("steps", fontName="Helvetica", fontSize=size_pt, leading=size_pt * 1.3)
        block = Paragraph(markup, style)
        _, height_pt = block.wrapOn(self.canvas, width_mm * POINTS_PER_MM, self.height_mm * POINTS_PER_MM)
        block.drawOn(self.canvas, self.x(at_mm[0]), self.y(at_mm[1]) - height_pt)
        return float(height_pt) / POINTS_PER_MM

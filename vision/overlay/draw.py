"""Overlay: a reading drawn on its photo, legible on a phone and on any background.

Frames: photo px as in `reading`; canvas px of the drawn picture, which is the photo reduced (small
photos: enlarged) with a band of text below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from calibration.upright import turned, turned_size
from vision.names import RimName
from vision.overlay.labels import Label, LineStyle, fitted, label_size, paste_label, plain, text_font, wrapped
from vision.reading import Length, Reading, Rim, Status

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

LONGEST_SIDE_PX = 2000
"""Enough to zoom in on a phone, small enough to send."""

# Photos smaller than this are enlarged, so that text on them is sharp.
SHORTEST_LONG_SIDE_PX = 1200
# A phone shows a picture about 390 points wide; text of 1/30 of that is 13 points, the size of small print.
FONT_SHARE = 1 / 30
# Lines: a light stroke of 1 point on that phone, on a dark halo of twice that.
STROKE_SHARE = 1 / 390

# Colours that people with any common colour blindness can distinguish: Okabe and Ito, "Color Universal Design"
# (2002, revised 2008).
SKY_BLUE = (86, 180, 233)
ORANGE = (230, 159, 0)
YELLOW = (240, 228, 66)
REDDISH_PURPLE = (204, 121, 167)
WHITE = (255, 255, 255)
HALO = (16, 16, 16)
BAND = (24, 24, 24)

RIM_COLORS = {RimName.SEAL: SKY_BLUE, RimName.MARKER_NEAR: ORANGE, RimName.FAR_END: YELLOW}
CARD_COLOR = REDDISH_PURPLE
MM_PER_INCH = 25.4


@dataclass(frozen=True)
class _Canvas:
    """The picture being drawn.

    Attributes
    ----------
    image : PIL Image
    pen : PIL ImageDraw
    scale : float
        Canvas px per photo px.
    font_px, stroke_px : int
    photo_size_px : tuple of two int
        Width and height of the photo's part.
    """

    image: Image.Image
    pen: ImageDraw.ImageDraw
    scale: float
    font_px: int
    stroke_px: int
    photo_size_px: tuple[int, int]

    def place(self, points_px: np.ndarray) -> np.ndarray:
        """Photo px to canvas px; pixel centres are at whole numbers in both."""
        return (np.asarray(points_px, dtype=float) + 0.5) * self.scale - 0.5


def draw(
    pixels: np.ndarray,
    reading: Reading,
    units: str = "mm",
    *,
    far_end: str = "far end",
    words: Sequence[str] | None = None,
    quarter_turns: int = 0,
) -> np.ndarray:
    """Draw a reading on its photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        The photo as it is stored, R, G, B.
    reading : Reading
    units : "mm" or "in"
        Of the values shown.
    far_end : str
        Name of the far end.
    words : sequence of str, optional
        Text below the photo about lengths that were not read; by default the notes' own details and advice.
    quarter_turns : int
        Quarter turns clockwise that make the photo upright, in which the reading is given. The photo is reduced before
        it is rotated: 12 megapixels rotated would take 36 MB more.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        R, G, B; longest side at most 2000 px. Pixels only: none of the photo's EXIF.
    """
    if words is None:
        words = [": ".join(filter(None, (note.detail, note.reason.advice))) for note in reading.notes]
    lines = _band_lines(reading, units, far_end, [*words, *reading.remarks])
    canvas = _canvas(pixels, lines, quarter_turns)
    _draw_lines(canvas, reading)
    _draw_labels(canvas, reading, units, far_end)
    return np.asarray(canvas.image)


def length_text(length: Length, units: str) -> str:
    """Format a length with its 95 % uncertainty in the given units."""
    if units == "in":
        return f"{length.value_mm / MM_PER_INCH:.3f} ± {length.u95_mm / MM_PER_INCH:.3f} in"
    return f"{length.value_mm:.1f} ± {length.u95_mm:.1f} mm"


def _band_lines(
    reading: Reading, units: str, far_end: str, words: Sequence[str]
) -> list[tuple[str, tuple[int, int, int]]]:
    """Lines of text below the photo, each with its colour."""
    lines: list[tuple[str, tuple[int, int, int]]] = []
    if reading.status is Status.REFUSED:
        lines.append(("Not read", ORANGE))
    rows = (
        ("Exposed, seal to " + far_end, reading.exposed, WHITE),
        ("Marker from the seal", reading.marker, RIM_COLORS[RimName.MARKER_NEAR]),
        ("Remaining to the " + far_end, reading.remaining, RIM_COLORS[RimName.FAR_END]),
    )
    if reading.status is not Status.REFUSED:
        for name, length, color in rows:
            lines.append((f"{name}: {'not read' if length is None else length_text(length, units)}", color))
        if reading.marker_at_stop:
            lines.append((f'The marker is at the {far_end}: the reading is "at least".', ORANGE))
    lines += [(line, WHITE) for line in words]
    return [(plain(text), color) for text, color in lines]


def _canvas(pixels: np.ndarray, lines: list[tuple[str, tuple[int, int, int]]], quarter_turns: int) -> _Canvas:
    """Scale the photo and write the text below it, both within the longest side."""
    import cv2
    from PIL import Image, ImageDraw

    height, width = pixels.shape[:2]
    width, height = turned_size((width, height), quarter_turns)
    long_side = max(SHORTEST_LONG_SIDE_PX, min(max(width, height), LONGEST_SIDE_PX))
    while True:
        scale = long_side / max(width, height)
        photo_w, photo_h = max(1, round(width * scale)), max(1, round(height * scale))
        font_px = max(12, round(photo_w * FONT_SHARE))
        font = text_font(font_px)
        margin, step = font_px // 2, round(font_px * 1.35)
        folded = [
            (part, color) for text, color in lines for part in wrapped(text, font, photo_w - 2 * margin)
        ]
        band_h = len(folded) * step + 2 * margin if folded else 0
        if photo_h + band_h <= LONGEST_SIDE_PX or long_side <= LONGEST_SIDE_PX // 2:
            break
        long_side = int(long_side * max(0.5, min(0.98, LONGEST_SIDE_PX / (photo_h + band_h))))
    band_h = min(band_h, LONGEST_SIDE_PX - photo_h)
    image = Image.new("RGB", (photo_w, photo_h + band_h), BAND)
    # Not by Pillow, whose own copy of 12 megapixels takes 48 MB.
    reduced = cv2.resize(
        pixels,
        turned_size((photo_w, photo_h), quarter_turns),
        interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LANCZOS4,
    )
    image.paste(Image.fromarray(turned(reduced, quarter_turns)), (0, 0))
    pen = ImageDraw.Draw(image)
    for i, (part, color) in enumerate(folded):
        pen.text((margin, photo_h + margin + i * step), part, font=font, fill=color)
    stroke = max(2, round(photo_w * STROKE_SHARE))
    return _Canvas(image, pen, scale, font_px, stroke, (photo_w, photo_h))


def _draw_lines(canvas: _Canvas, reading: Reading) -> None:
    """Draw all lines, halos first, so that no halo covers a stroke."""
    strokes: list[tuple[np.ndarray, tuple[int, int, int], int]] = []
    if reading.card_outline_px is not None:
        outline = np.asarray(reading.card_outline_px, dtype=float)
        strokes.append((np.vstack([outline, outline[:1]]), CARD_COLOR, canvas.stroke_px))
    strokes += [(edge, WHITE, canvas.stroke_px) for edge in reading.shaft_edges_px]
    strokes += [(rim.curve_px, _rim_color(rim), round(1.5 * canvas.stroke_px)) for rim in reading.rims]
    placed = []
    for points, color, width in strokes:
        curve = canvas.place(points)
        curve = curve[np.all(np.isfinite(curve), axis=1)]
        if len(curve) >= 2:
            placed.append(([(float(x), float(y)) for x, y in curve], color, width))
    for curve_xy, _, width in placed:
        canvas.pen.line(curve_xy, fill=HALO, width=width + 2 * canvas.stroke_px, joint="curve")
    for curve_xy, color, width in placed:
        canvas.pen.line(curve_xy, fill=color, width=width, joint="curve")


def _rim_color(rim: Rim) -> tuple[int, int, int]:
    return RIM_COLORS.get(rim.name, WHITE)


def _draw_labels(canvas: _Canvas, reading: Reading, units: str, far_end: str) -> None:
    """Write each rim's name and value beside it, connected by a line."""
    texts = {RimName.SEAL: "seal", RimName.MARKER_NEAR: "marker", RimName.FAR_END: far_end}
    if reading.marker is not None:
        texts[RimName.MARKER_NEAR] = "marker " + length_text(reading.marker, units)
    if reading.remaining is not None:
        texts[RimName.FAR_END] = f"{far_end} {length_text(reading.remaining, units)} away"
    labels = []
    font = text_font(canvas.font_px)
    for rim in reading.rims:
        curve = canvas.place(rim.curve_px)
        curve = curve[np.all(np.isfinite(curve), axis=1)]
        if len(curve):
            text = plain(texts.get(rim.name, rim.name))
            labels.append(
                Label(text, _rim_color(rim), curve[[0, -1]], label_size(text, font, canvas.font_px))
            )
    if not labels:
        return
    card = None if reading.card_outline_px is None else canvas.place(reading.card_outline_px).mean(axis=0)
    for label, end, corner in fitted(labels, card, canvas.photo_size_px, canvas.font_px):
        paste_label(canvas.pen, label, (end, corner), font, LineStyle(canvas.stroke_px, HALO))

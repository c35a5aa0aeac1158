"""Overlay: a reading drawn on its photo, legible on a phone and on any background.

Frames: photo px as in `reading`; canvas px of the drawn picture, which is the photo reduced (small
photos: enlarged) with a band of text below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from calibration.upright import turned, turned_size
from vision.names import LengthName, RimName
from vision.overlay.dimensions import Dimension, dimensions, lengths_to_draw
from vision.overlay.failed_places import FailedPlace, failed_places
from vision.overlay.labels import Fonts, Label, LineStyle, paste_label, plain, text_font, text_size, wrapped
from vision.overlay.placement import Wanted, free_places
from vision.reading import Length, Reading, Rim, Status

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

LONGEST_SIDE_PX = 2000
"""Enough to zoom in on a phone, small enough to send."""

# Photos smaller than this are enlarged, so that text on them is sharp.
SHORTEST_LONG_SIDE_PX = 1200
# A phone shows a picture about 390 points wide; text of 1/30 of that is 13 points, the size of small print. Numbers
# have 18 points and the answer below the photo 26: read in the sun, at arm's length [common practice, no source].
FONT_SHARE, NUMBER_SHARE, ANSWER_SHARE = 1 / 30, 1 / 22, 1 / 15
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
# Dimension lines lie so many text heights beside the shaft: clear of its outline and of a marker's lock.
OFFSET_TIMES = 1.3
# Points of the circles that mark where a reading failed.
CIRCLE_POINTS = 48

_Line = tuple[str, tuple[int, int, int], float]
"""A line below the photo: text, colour, and its size as a share of the photo's width."""


@dataclass(frozen=True)
class _Canvas:
    """The picture being drawn.

    Attributes
    ----------
    image : PIL Image
    pen : PIL ImageDraw
    scale : float
        Canvas px per photo px.
    font_px, number_px, stroke_px : int
        Of text, of numbers, of lines.
    photo_size_px : tuple of two int
        Width and height of the photo's part.
    """

    image: Image.Image
    pen: ImageDraw.ImageDraw
    scale: float
    font_px: int
    number_px: int
    stroke_px: int
    photo_size_px: tuple[int, int]

    def place(self, points_px: np.ndarray) -> np.ndarray:
        """Photo px to canvas px; pixel centres are at whole numbers in both."""
        return (np.asarray(points_px, dtype=float) + 0.5) * self.scale - 0.5


@dataclass(frozen=True)
class Caption:
    """Text below the photo.

    Attributes
    ----------
    words : sequence of str or None
        About lengths that were not read; None for the notes' own details and advice.
    answer : sequence of str
        What the reading means, in large letters: stroke used, of what, and verdict.
    """

    words: Sequence[str] | None = None
    answer: Sequence[str] = ()


def draw(
    pixels: np.ndarray,
    reading: Reading,
    units: str = "mm",
    *,
    far_end: str = "far end",
    caption: Caption | None = None,
    quarter_turns: int = 0,
) -> np.ndarray:
    """Draw a reading on its photo: each length from what to what, and where a reading failed.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        The photo as it is stored, R, G, B.
    reading : Reading
    units : "mm" or "in"
        Of the values shown.
    far_end : str
        Name of the far end.
    caption : Caption, optional
        Text below the photo.
    quarter_turns : int
        Quarter turns clockwise that make the photo upright, in which the reading is given. The photo is reduced before
        it is rotated: 12 megapixels rotated would take 36 MB more.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        R, G, B; longest side at most 2000 px. Pixels only: none of the photo's EXIF.
    """
    caption = caption or Caption()
    words = caption.words
    if words is None:
        words = [": ".join(filter(None, (note.detail, note.reason.advice))) for note in reading.notes]
    lines = _band_lines(reading, units, far_end, [*words, *reading.remarks])
    lines = [*((plain(one), WHITE, ANSWER_SHARE) for one in caption.answer), *lines]
    canvas = _canvas(pixels, lines, quarter_turns)
    curves = _rim_curves(canvas, reading)
    card = None if reading.card_outline_px is None else canvas.place(reading.card_outline_px)
    edges = [canvas.place(edge) for edge in reading.shaft_edges_px]
    measured = dimensions(
        lengths_to_draw(reading), curves, card, canvas.photo_size_px, OFFSET_TIMES * canvas.font_px
    )
    notes = [replace(note, outlines_px=tuple(map(canvas.place, note.outlines_px))) for note in reading.notes]
    failed = failed_places(notes, edges, card, far_end)
    _draw_lines(canvas, reading)
    for one in measured:
        _draw_dimension(canvas, one)
    for place in failed:
        _draw_failed(canvas, place)
    named = [(_length_label(canvas, reading, one, units, far_end), _beside(one)) for one in measured]
    named += [_failed_label(canvas, place, card) for place in failed]
    obstacles = [*([] if card is None else [card]), *_shaft_area(edges, curves)]
    obstacles += [_dimension_area(one) for one in measured] + [_round_area(place) for place in failed]
    _draw_labels(canvas, named, obstacles)
    return np.asarray(canvas.image)


def length_text(length: Length, units: str) -> str:
    """Format a length with its 95 % uncertainty in the given units."""
    if units == "in":
        return f"{length.value_mm / MM_PER_INCH:.3f} ± {length.u95_mm / MM_PER_INCH:.3f} in"
    return f"{length.value_mm:.1f} ± {length.u95_mm:.1f} mm"


def _band_lines(reading: Reading, units: str, far_end: str, words: Sequence[str]) -> list[_Line]:
    """Lines of text below the photo, each with its colour."""
    lines: list[tuple[str, tuple[int, int, int]]] = []
    if reading.status is Status.REFUSED:
        lines.append(("Not read", ORANGE))
    rows = (
        ("Seal to " + far_end, reading.exposed, WHITE),
        ("Seal to marker", reading.marker, RIM_COLORS[RimName.MARKER_NEAR]),
        ("Marker to " + far_end, reading.remaining, RIM_COLORS[RimName.FAR_END]),
    )
    if reading.status is not Status.REFUSED:
        for name, length, color in rows:
            lines.append((f"{name}: {'not read' if length is None else length_text(length, units)}", color))
        if reading.marker_at_stop:
            lines.append((f'The marker is at the {far_end}: the reading is "at least".', ORANGE))
    lines += [(line, WHITE) for line in words]
    return [(plain(text), color, FONT_SHARE) for text, color in lines]


def _canvas(pixels: np.ndarray, lines: list[_Line], quarter_turns: int) -> _Canvas:
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
        margin = font_px // 2
        folded = [
            (part, color, text_font(size))
            for text, color, share in lines
            for size in [max(12, round(photo_w * share))]
            for part in wrapped(text, text_font(size), photo_w - 2 * margin)
        ]
        steps = [round(1.35 * text_size(font)) for _, _, font in folded]
        band_h = sum(steps) + 2 * margin if folded else 0
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
    for i, (part, color, font) in enumerate(folded):
        pen.text((margin, photo_h + margin + sum(steps[:i])), part, font=font, fill=color)
    stroke = max(2, round(photo_w * STROKE_SHARE))
    number_px = max(14, round(photo_w * NUMBER_SHARE))
    return _Canvas(image, pen, scale, font_px, number_px, stroke, (photo_w, photo_h))


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


def _rim_curves(canvas: _Canvas, reading: Reading) -> dict[RimName, np.ndarray]:
    """Rims on the canvas, without what could not be placed."""
    found = {}
    for rim in reading.rims:
        curve = canvas.place(rim.curve_px)
        curve = curve[np.all(np.isfinite(curve), axis=1)]
        if len(curve) >= 2:
            found[rim.name] = curve
    return found


def _fonts(canvas: _Canvas) -> Fonts:
    return Fonts(text_font(canvas.number_px), text_font(canvas.font_px))


def _length_label(canvas: _Canvas, reading: Reading, one: Dimension, units: str, far_end: str) -> Label:
    """Write a length, and from what to what it goes."""
    names = {RimName.SEAL: "seal", RimName.MARKER_NEAR: "marker", RimName.FAR_END: far_end}
    length = reading.length(one.name)
    assert length is not None
    start, end = (names[rim] for rim in one.name.rims)
    return Label(
        plain(length_text(length, units)),
        plain(f"{start} to {end}"),
        _dimension_color(one.name),
        _fonts(canvas),
    )


def _beside(one: Dimension) -> Wanted:
    return Wanted(one.middle_px, (0.0, 0.0), one.outward)


def _failed_label(canvas: _Canvas, place: FailedPlace, card: np.ndarray | None) -> tuple[Label, Wanted]:
    outward = np.array([1.0, 0.0]) if card is None else _unit(place.centre_px - card.mean(axis=0))
    label = Label(plain(place.words), "", ORANGE, _fonts(canvas))
    return label, Wanted(place.centre_px + place.radius_px * outward, (0.0, 0.0), outward)


def _draw_labels(
    canvas: _Canvas, named: Sequence[tuple[Label, Wanted]], obstacles: Sequence[np.ndarray]
) -> None:
    """Write each label where nothing is covered; one that finds no place stands below the photo anyway."""
    wanted = [replace(one, size_px=label.size_px) for label, one in named]
    corners = free_places(wanted, obstacles, canvas.photo_size_px, canvas.font_px / 3)
    style = LineStyle(canvas.stroke_px, HALO)
    for (label, one), corner in zip(named, corners, strict=True):
        if corner is not None:
            paste_label(canvas.pen, label, (one.anchor_px, corner), style)


def _dimension_color(name: LengthName) -> tuple[int, int, int]:
    """Colour of the rim that a length goes to; white for the whole."""
    return WHITE if name is LengthName.EXPOSED else RIM_COLORS[name.rims[1]]


def _draw_dimension(canvas: _Canvas, one: Dimension) -> None:
    """Draw the line with an arrow at each end, and the lines from the rims to it."""
    color, stroke = _dimension_color(one.name), canvas.stroke_px
    along = _unit(one.ends_px[1] - one.ends_px[0])
    barb = 0.45 * canvas.font_px
    strokes = [one.ends_px]
    for end, sense in ((one.ends_px[0], 1.0), (one.ends_px[1], -1.0)):
        tips = [end + barb * (sense * along + 0.5 * side * one.outward) for side in (1, -1)]
        strokes.append(np.array([tips[0], end, tips[1]]))
    over = 0.4 * canvas.font_px * one.outward
    strokes += [np.array([rim, end + over]) for rim, end in zip(one.rims_px, one.ends_px, strict=True)]
    for fill, width in ((HALO, 3 * stroke), (color, stroke)):
        for points in strokes:
            canvas.pen.line([(float(x), float(y)) for x, y in points], fill=fill, width=width)


def _draw_failed(canvas: _Canvas, place: FailedPlace) -> None:
    """Draw a broken circle round a place that could not be read."""
    ring = _round_area(place)
    for fill, width in ((HALO, 5 * canvas.stroke_px), (ORANGE, 3 * canvas.stroke_px)):
        for i in range(0, CIRCLE_POINTS, 4):
            part = ring[i : i + 3]
            canvas.pen.line([(float(x), float(y)) for x, y in part], fill=fill, width=width)


def _round_area(place: FailedPlace) -> np.ndarray:
    angle = np.linspace(0.0, 2.0 * np.pi, CIRCLE_POINTS + 1)
    ring: np.ndarray = place.centre_px + place.radius_px * np.c_[np.cos(angle), np.sin(angle)]
    return ring


def _shaft_area(edges: Sequence[np.ndarray], curves: dict[RimName, np.ndarray]) -> list[np.ndarray]:
    """Areas of shaft and rims, which no label may cover."""
    return ([np.vstack([edges[0], edges[1][::-1]])] if len(edges) == 2 else []) + list(curves.values())


def _dimension_area(one: Dimension) -> np.ndarray:
    return np.vstack([one.rims_px, one.ends_px[::-1]])


def _unit(vector: np.ndarray) -> np.ndarray:
    length = float(np.linalg.norm(vector))
    found: np.ndarray = vector / length if length > 0 else np.array([1.0, 0.0])
    return found

"""Text on the overlay: line breaks, and placement of labels without overlap."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL import ImageDraw, ImageFont

# Pillow's own font has Latin-1 only; these replace the other characters that messages use.
_PLAIN = str.maketrans(
    {"–": "-", "—": "-", "“": '"', "”": '"', "’": "'", "≥": "at least ", "…": "...", "•": "-"}
)


@dataclass(frozen=True)
class Label:
    """A name to write beside a rim.

    Attributes
    ----------
    text : str
    color : tuple of three int
    ends_px : ndarray of shape (2, 2)
        Both ends of the rim, canvas px.
    size_px : tuple of two float
        Width and height of its box.
    """

    text: str
    color: tuple[int, int, int]
    ends_px: np.ndarray
    size_px: tuple[float, float]


def plain(text: str) -> str:
    """Replace characters that the font lacks, by a question mark where nothing similar exists."""
    return text.translate(_PLAIN).encode("latin-1", "replace").decode("latin-1")


@lru_cache(maxsize=8)
def text_font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Pillow's own scalable font, so that the picture is the same on every machine."""
    from PIL import ImageFont

    return ImageFont.load_default(size_px)


def wrapped(text: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont, width_px: float) -> list[str]:
    """Break text at spaces to a width; a longer word gets its own line."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def label_size(
    text: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont, font_px: int
) -> tuple[float, float]:
    """Width and height of a label's box, px."""
    return font.getlength(text) + 0.8 * font_px, 1.5 * font_px


def fitted(
    labels: Iterable[Label], card_px: np.ndarray | None, size_px: tuple[int, int], font_px: int
) -> list[tuple[Label, np.ndarray, np.ndarray]]:
    """Place labels beside the shaft, on the side away from the card where there is room.

    Parameters
    ----------
    labels : iterable of Label
    card_px : ndarray of shape (2,) or None
        Centre of the card.
    size_px : tuple of two int
        Width and height to stay within.
    font_px : int

    Returns
    -------
    list of (Label, end, corner)
        The end of the rim at which the connecting line starts, and the box's top left corner.
    """
    labels = list(labels)
    middles = np.array([label.ends_px.mean(axis=0) for label in labels])
    chord = np.sum([_along_first(label.ends_px, labels[0].ends_px) for label in labels], axis=0)
    length = float(np.linalg.norm(chord))
    outward = chord / length if length > 0 else np.array([1.0, 0.0])
    centre = middles.mean(axis=0)
    if card_px is not None and np.dot(card_px - centre, outward) > 0:
        outward = -outward
    widest = max(label.size_px[0] for label in labels)
    if _room(centre, outward, size_px) < widest + font_px < _room(centre, -outward, size_px):
        outward = -outward
    corners, ends = [], []
    for label in labels:
        end = max(label.ends_px, key=lambda point: float(np.dot(point, outward)))
        half = np.array(label.size_px) / 2
        reach = 1.2 * font_px + abs(outward[0]) * half[0] + abs(outward[1]) * half[1]
        ends.append(end)
        corners.append(_kept_inside(end + outward * reach - half, label.size_px, size_px))
    _push_apart(corners, labels, size_px, float(outward[1]))
    return list(zip(labels, ends, corners, strict=True))


def _along_first(ends: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Return a rim's chord in the sense of the first rim's."""
    chord: np.ndarray = ends[1] - ends[0]
    return chord if np.dot(chord, first[1] - first[0]) >= 0 else -chord


def _room(start: np.ndarray, direction: np.ndarray, size_px: tuple[int, int]) -> float:
    """Distance from a point to the picture's border, px."""
    rooms: list[float] = [
        ((limit if d > 0 else 0.0) - s) / d
        for s, d, limit in zip(start, direction, size_px, strict=True)
        if abs(d) > 1e-9
    ]
    return max(0.0, float(min(rooms)))


def _kept_inside(corner: np.ndarray, box_px: tuple[float, float], size_px: tuple[int, int]) -> np.ndarray:
    room = np.maximum(np.array(size_px) - np.array(box_px), 0.0)
    return np.asarray(np.clip(corner, 0.0, room))


def _push_apart(
    corners: list[np.ndarray], labels: list[Label], size_px: tuple[int, int], outward_y: float
) -> None:
    """Separate overlapping boxes: away from a shaft above or below them, else downwards.

    Boxes are stacked in that direction, and moved back where they would leave the picture.
    """
    away = -1.0 if outward_y < -0.5 else 1.0
    low, high = (0.0, float(size_px[1])) if away > 0 else (-float(size_px[1]), 0.0)
    wide, tall = ([label.size_px[axis] for label in labels] for axis in (0, 1))
    # Start of each box, in the direction in which boxes are moved.
    start = [float(c[1]) if away > 0 else -float(c[1]) - h for c, h in zip(corners, tall, strict=True)]
    order = sorted(range(len(labels)), key=start.__getitem__)

    def beside(i: int, j: int) -> bool:
        apart = corners[j][0] - corners[i][0]
        return bool(apart >= wide[i] or -apart >= wide[j])

    for place, i in enumerate(order):
        ends = [start[j] + 1.1 * tall[j] for j in order[:place] if not beside(i, j)]
        start[i] = max(start[i], low, *ends)
    for place, i in reversed(list(enumerate(order))):
        starts = [start[j] - 0.1 * tall[i] for j in order[place + 1 :] if not beside(i, j)]
        start[i] = min(start[i], high - tall[i], *(one - tall[i] for one in starts))
    for i, corner in enumerate(corners):
        corners[i] = np.array([corner[0], start[i] if away > 0 else -start[i] - tall[i]])


@dataclass(frozen=True)
class LineStyle:
    """Width of lines, canvas px, and the colour of their halo."""

    stroke_px: int
    halo: tuple[int, int, int]


def paste_label(
    pen: ImageDraw.ImageDraw,
    label: Label,
    place_px: tuple[np.ndarray, np.ndarray],
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
    style: LineStyle,
) -> None:
    """Write a label in its box and connect it to the rim's end by a line.

    Parameters
    ----------
    pen : PIL ImageDraw
    label : Label
    place_px : tuple of two ndarrays of shape (2,)
        The rim's end and the box's top left corner.
    font : PIL ImageFont
    style : LineStyle
    """
    (end_px, corner_px), stroke_px, halo = place_px, style.stroke_px, style.halo
    x, y = float(corner_px[0]), float(corner_px[1])
    w, h = label.size_px
    nearest = (min(max(float(end_px[0]), x), x + w), min(max(float(end_px[1]), y), y + h))
    line = [(float(end_px[0]), float(end_px[1])), nearest]
    pen.line(line, fill=halo, width=3 * stroke_px)
    pen.line(line, fill=label.color, width=stroke_px)
    pen.rounded_rectangle((x, y, x + w, y + h), radius=h / 5, fill=halo, outline=label.color, width=stroke_px)
    pen.text((x + w / 2, y + h / 2), label.text, font=font, fill=label.color, anchor="mm")

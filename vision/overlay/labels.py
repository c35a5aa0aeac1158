"""Text on the overlay: letters, line breaks, and labels in their boxes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL import ImageDraw, ImageFont
    from PIL.ImageFont import FreeTypeFont
    from PIL.ImageFont import ImageFont as PlainFont

WHITE = (255, 255, 255)
# Pillow's own font has Latin-1 only; these replace the other characters that messages use.
_PLAIN = str.maketrans(
    {"–": "-", "—": "-", "“": '"', "”": '"', "’": "'", "≥": "at least ", "…": "...", "•": "-"}
)


@dataclass(frozen=True)
class Fonts:
    """Fonts of a label: of its first line, and of the one below."""

    large: FreeTypeFont | PlainFont
    small: FreeTypeFont | PlainFont


@dataclass(frozen=True)
class Label:
    """A length, or what failed, in a box.

    Attributes
    ----------
    text : str
        In large letters.
    below : str
        In small ones; "" for one line.
    color : tuple of three int
    fonts : Fonts
    """

    text: str
    below: str
    color: tuple[int, int, int]
    fonts: Fonts

    @property
    def size_px(self) -> tuple[float, float]:
        """Width and height of its box."""
        large, small = text_size(self.fonts.large), text_size(self.fonts.small)
        wide = max(self.fonts.large.getlength(self.text), self.fonts.small.getlength(self.below))
        return wide + 0.8 * small, 1.3 * large + (1.2 * small if self.below else 0.3 * small)


def text_size(font: FreeTypeFont | PlainFont) -> float:
    """Height of a font's letters, px."""
    return float(getattr(font, "size", 11))


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


@dataclass(frozen=True)
class LineStyle:
    """Width of lines, canvas px, and the colour of their halo."""

    stroke_px: int
    halo: tuple[int, int, int]


def paste_label(
    pen: ImageDraw.ImageDraw, label: Label, place_px: tuple[np.ndarray, np.ndarray], style: LineStyle
) -> None:
    """Write a label in its box and connect it to what it names by a line.

    Parameters
    ----------
    pen : PIL ImageDraw
    label : Label
    place_px : tuple of two ndarrays of shape (2,)
        What it names, and the box's top left corner.
    style : LineStyle
    """
    (named_px, corner_px), stroke_px, halo = place_px, style.stroke_px, style.halo
    x, y = float(corner_px[0]), float(corner_px[1])
    w, h = label.size_px
    small = text_size(label.fonts.small)
    nearest = (min(max(float(named_px[0]), x), x + w), min(max(float(named_px[1]), y), y + h))
    line = [(float(named_px[0]), float(named_px[1])), nearest]
    pen.line(line, fill=halo, width=3 * stroke_px)
    pen.line(line, fill=label.color, width=stroke_px)
    pen.rounded_rectangle((x, y, x + w, y + h), radius=h / 6, fill=halo, outline=label.color, width=stroke_px)
    first = y + (0.7 * text_size(label.fonts.large) if label.below else h / 2)
    pen.text((x + w / 2, first), label.text, font=label.fonts.large, fill=WHITE, anchor="mm")
    if label.below:
        pen.text(
            (x + w / 2, y + h - 0.75 * small),
            label.below,
            font=label.fonts.small,
            fill=label.color,
            anchor="mm",
        )

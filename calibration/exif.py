"""EXIF fields of a photo file."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL import Image

# Tag numbers: CIPA DC-008 (Exif 2.32), table 4 to 8.
ORIENTATION_TAG = 0x0112
_DATE_TIME = 0x0132
_EXIF_IFD = 0x8769
_DATE_TIME_ORIGINAL = 0x9003
_PIXEL_X = 0xA002
_PIXEL_Y = 0xA003
_DIGITAL_ZOOM = 0xA404
_FOCAL_35MM = 0xA405

# Exceptions that a hostile or broken EXIF block raises inside the parser.
_BROKEN = (OSError, ValueError, TypeError, KeyError, IndexError, SyntaxError, ArithmeticError, struct.error)

_LARGEST_WHOLE = 0xFFFFFFFF
"""Of a LONG (TIFF 6.0, section 2), the larger type that sizes in pixels may have; a broken field holds others."""

_TEXT_LIMIT = 200
"""Longer texts are junk and would only fill messages."""


@dataclass(frozen=True)
class ExifFacts:
    """The EXIF fields used here; None where a field is missing or invalid.

    Attributes
    ----------
    focal_35mm : float or None
        35 mm-equivalent focal length, mm, a whole number as EXIF writes it.
    width, height : int or None
        EXIF's own pixel size (PixelXDimension, PixelYDimension), before orientation.
    orientation : int
        1 to 8; 1 where it is missing, or where the decoder has already rotated the image.
    digital_zoom : float or None
        1 is none.
    when : datetime or None
        Time on the camera's clock, no zone.
    """

    focal_35mm: float | None = None
    width: int | None = None
    height: int | None = None
    orientation: int = 1
    digital_zoom: float | None = None
    when: datetime | None = None


def read_exif(image: Image.Image) -> ExifFacts:
    """Read the fields from an opened image; a broken EXIF block counts as missing.

    Parameters
    ----------
    image : PIL Image

    Returns
    -------
    ExifFacts
    """
    try:
        exif = image.getexif()
        base: dict[int, Any] = dict(exif)
    except _BROKEN:
        return ExifFacts()
    try:
        inner: dict[int, Any] = dict(exif.get_ifd(_EXIF_IFD))
    except _BROKEN:
        inner = {}
    orientation = _whole(base.get(ORIENTATION_TAG)) or 1
    return ExifFacts(
        focal_35mm=_positive(inner.get(_FOCAL_35MM)),
        width=_whole(inner.get(_PIXEL_X)),
        height=_whole(inner.get(_PIXEL_Y)),
        orientation=orientation if 1 <= orientation <= 8 else 1,
        digital_zoom=_positive(inner.get(_DIGITAL_ZOOM)),
        when=_time(inner.get(_DATE_TIME_ORIGINAL)) or _time(base.get(_DATE_TIME)),
    )


def _positive(value: Any) -> float | None:
    """Convert to a finite number above 0; EXIF writes 0 for "unknown" and 0/0 for nothing."""
    if isinstance(value, tuple) and len(value) == 1:
        value = value[0]
    try:
        number = float(value)
    except _BROKEN:
        return None
    return number if math.isfinite(number) and number > 0 else None


def _whole(value: Any) -> int | None:
    number = _positive(value)
    return int(number) if number is not None and 1 <= number <= _LARGEST_WHOLE else None


def _text(value: Any) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return None
    words = "".join(letter for letter in value if letter.isprintable()).strip()
    return words[:_TEXT_LIMIT] or None


def _time(value: Any) -> datetime | None:
    words = _text(value)
    try:
        return datetime.strptime(words, "%Y:%m:%d %H:%M:%S") if words else None
    except ValueError:
        return None

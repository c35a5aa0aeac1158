"""Decoding of a usual JPEG directly into an array.

Pillow holds four bytes per pixel, of which three have to be copied out: decoding then took a third longer.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from calibration.broken_blocks import STAIR_SHARE, block_size, stair
from calibration.photo_limits import MAX_HALVED_PIXELS, MAX_JPEG_PIXELS, scans

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

# Words of libjpeg-turbo's warnings about damaged data.
DAMAGE = ("Corrupt JPEG data", "Unsupported marker type")
# The one that fill bytes provoke as well, whose picture is whole: how many there were, and before which marker.
STRAY = re.compile(r"(\d+) extraneous bytes before marker 0x([0-9a-f]{2})")
# Colours in which the decoder can be asked for damage, by Pillow's mode.
_COLOURS = {"RGB": "RGB", "L": "GRAY", "CMYK": "CMYK"}


class DamagedJpeg(Exception):
    """The decoder reports damaged data."""


def decoded_jpeg(image: Image.Image, content: bytes) -> np.ndarray | None:
    """Decode a usual colour JPEG; leave every other file to Pillow.

    One of more than `MAX_JPEG_PIXELS` is decoded at half its width and height, which takes a quarter of the memory.

    The library is Pillow's (libjpeg-turbo, same settings: pixels are equal), but it stops at errors that Pillow
    ignores, and at truncated files.

    Parameters
    ----------
    image : PIL Image
        Its header has been read.
    content : bytes
        The whole file. The first of several images in it is decoded.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3) or, halved, (ceil(h / 2), ceil(w / 2), 3), or None
        R, G, B as stored. None for other formats and colours, and where the decoder reports anything else: Pillow
        then decides whether it is a photo.

    Raises
    ------
    DamagedJpeg
        The decoder calls the data corrupt, or the picture shows that it is. Pillow would fill the rest with what comes:
        of 1,151 such photos that were read, 82 were wrong by up to 75 mm.
    """
    colours = _COLOURS.get(image.mode) if image.format in ("JPEG", "MPO") else None
    if colours is None:
        return None
    from simplejpeg import decode_jpeg

    times = 2 if image.width * image.height > MAX_JPEG_PIXELS else 1
    height, width = -(-image.height // times), -(-image.width // times)
    try:
        pixels: np.ndarray = decode_jpeg(
            content, colorspace=colours, strict=True, min_height=height, min_width=width, min_factor=times
        )
    except ValueError as error:
        words = str(error)
        if any(fault in words for fault in DAMAGE) and not _only_fill(words, content):
            raise DamagedJpeg(words) from error
        return None
    if pixels.shape != (height, width, 3):
        return None
    block = block_size(content)
    if block and stair(pixels, (block[0] // times, block[1] // times)) > STAIR_SHARE:
        raise DamagedJpeg("from one of its blocks on the picture is another")
    return pixels


def _only_fill(words: str, content: bytes) -> bool:
    """Whether the decoder warns of nothing but fill bytes before a marker, all alike.

    What is left of a picture's data that was damaged is not: blocks were lost, and the decoder was done early.
    """
    found = STRAY.search(words)
    if not found:
        return False
    end = content.rfind(bytes((0xFF, int(found[2], 16))))
    return len(set(content[max(end - int(found[1]), 0) : end])) <= 1


def can_be_halved(image: Image.Image, content: bytes) -> bool:
    """Whether a JPEG over `MAX_JPEG_PIXELS` may be decoded at half its size.

    A progressive one may not: its decoder keeps all coefficients of the full size.
    """
    pixels = image.width * image.height
    return image.mode == "RGB" and pixels <= MAX_HALVED_PIXELS and scans(content) <= 3

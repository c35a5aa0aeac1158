"""Decoding of a usual JPEG directly into an array.

Pillow holds four bytes per pixel, of which three have to be copied out: decoding then took a third longer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image


def decoded_jpeg(image: Image.Image, content: bytes) -> np.ndarray | None:
    """Decode a usual colour JPEG; leave every other file to Pillow.

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
    ndarray of uint8, shape (h, w, 3), or None
        R, G, B as stored. None for other formats and colours, and where the decoder reports anything: Pillow then
        decides whether it is a photo.
    """
    if image.format not in ("JPEG", "MPO") or image.mode != "RGB":
        return None
    from simplejpeg import decode_jpeg

    try:
        pixels: np.ndarray = decode_jpeg(content, strict=True)
    except ValueError:
        return None
    return pixels if pixels.shape == (image.height, image.width, 3) else None

"""Decoding a JPEG straight into an array: what phones store, without the copy that Pillow's own pictures need.

Pillow holds four bytes a pixel, of which three have to be copied out: with that a photo took a third longer to decode.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image


def decoded_jpeg(image: Image.Image, content: bytes) -> np.ndarray | None:
    """The pixels of a JPEG in colour, where nothing about it is out of the ordinary.

    The same library decodes as Pillow's (libjpeg-turbo, in the same way: pixels are equal), but it stops at whatever
    Pillow lets pass, and at what is cut short.

    Parameters
    ----------
    image : PIL Image
        Of which the header was read.
    content : bytes
        The whole file. Of several pictures in it the first is decoded.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3), or None
        R, G, B as stored. None for other formats and colours, and where the decoder has anything to complain of: then
        Pillow has to say whether it is a photo.
    """
    if image.format not in ("JPEG", "MPO") or image.mode != "RGB":
        return None
    from simplejpeg import decode_jpeg

    try:
        pixels: np.ndarray = decode_jpeg(content, strict=True)
    except ValueError:
        return None
    return pixels if pixels.shape == (image.height, image.width, 3) else None

"""Conversion of decoded images to 8-bit RGB arrays, and reduction by whole factors."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL import Image


STRIP_BYTES = 1_000_000
"""Bytes copied at a time: six times as much and half as much took longer at 12 megapixels [measured]."""


class UnknownPixels(Exception):
    """Pixels whose conversion to brightness is undefined; the message names their kind."""


def to_rgb(image: Image.Image) -> Image.Image:
    """Convert a decoded image of any usual mode to 8-bit RGB.

    CMYK and the like are converted without their colour profile: edges keep their position, and colours
    are only used roughly. Transparent parts are composited on white. 16 bits become 8.

    Parameters
    ----------
    image : PIL Image

    Returns
    -------
    PIL Image
        Mode RGB; the same object where no conversion is needed.

    Raises
    ------
    UnknownPixels
        For floats, 32 bits, and colour spaces that are undefined without a profile.
    """
    from PIL import Image

    if image.mode == "RGB" and not image.has_transparency_data:
        return image
    if image.mode.startswith("I"):
        grey = np.asarray(image)
        if grey.min() < 0 or grey.max() > 65535:
            raise UnknownPixels("32-bit pixels")
        return Image.fromarray(((grey.astype(np.uint32) + 128) // 257).astype(np.uint8)).convert("RGB")
    if image.mode in ("F", "LAB", "HSV"):
        raise UnknownPixels(f"{image.mode} pixels")
    if image.has_transparency_data:
        opaque = image.convert("RGBA")
        paper = Image.new("RGBA", opaque.size, "white")
        return Image.alpha_composite(paper, opaque).convert("RGB")
    return image.convert("RGB")


def as_array(image: Image.Image) -> np.ndarray:
    """Convert a decoded image to an array of 8-bit RGB, strip by strip.

    Caches make that four times as fast as in one go, and no second picture of the whole size is held: a transparent one
    of 250 megapixels took 4.9 GB, since each step of its conversion was as large as the picture.

    Parameters
    ----------
    image : PIL Image
        Any mode that `to_rgb` converts.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)

    Raises
    ------
    UnknownPixels
        As `to_rgb`.
    """
    width, height = image.size
    out = np.empty((height, width, 3), np.uint8)
    rows = max(STRIP_BYTES // (3 * width), 1)
    for first in range(0, height, rows):
        last = min(first + rows, height)
        out[first:last] = np.asarray(to_rgb(image.crop((0, first, width, last))))
    return out


def shrunk(image: np.ndarray, times: int, times_down: int | None = None) -> np.ndarray:
    """Reduce an image by a whole factor: averaging whole pixels is some five times as fast as any other area.

    Rows and columns left over at the end are dropped. Pixel p of the result lies at (p + 0.5) times - 0.5.
    `times_down` is the vertical factor where it differs.
    """
    import cv2

    down = times_down or times
    height, width = image.shape[0] // down, image.shape[1] // times
    whole = image[: height * down, : width * times]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))

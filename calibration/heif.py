"""HEIC files before they are handed to their decoder, and the decoder without what reading does not need."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

# Item info entry (ISO/IEC 14496-12, 8.11.6): after the box's type come its version and flags, then the item's number
# (two bytes, four in version 3), its protection (two), and in versions 2 and 3 its type; texts follow.
_ENTRY = b"infe"
_TYPE_AT = {2: 12, 3: 14}
# An entry holds a name and a kind of content, some dozens of bytes; none is as long as this [a choice].
_LONGEST_ENTRY = 4_096
# Damaged data decode to patches of every hue beside each other. Side of a patch, px; difference of its channels, code
# values, from which it is gaudy; hues of gaudy neighbours that quarrel, degrees; the least share of each sixth of all
# hues and of such pairs: 12 of 13 damaged pictures have both, of 3,085 sound ones a simulation in false colours
# [measured].
_PATCH_PX, _GAUDY_CODES, _HUES_APART = 8, 90, 75
_LEAST_OF_EACH, _QUARRELS = 0.0003, 0.00065
# What was not decoded at all is zero in all three planes, this green (ITU-R BT.601), within some code values; the least
# share of the picture: 0.05 to 0.4 in damaged ones, none in sound ones [measured].
_BLANK, _BLANK_CODES, _LEAST_BLANK = (0, 135, 0), 3, 0.01


def register_decoder() -> None:
    """Make Pillow open HEIC: pictures alone, without thumbnails, depth maps and gain maps."""
    from pi_heif import register_heif_opener

    register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)


def looks_torn(pixels: np.ndarray) -> bool:
    """Whether a decoded HEIC shows what its decoder makes of damaged data: small patches of all gaudy colours.

    libde265 decodes on where data are damaged, to the end of the picture's part, and gives no warning.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    """
    import cv2
    import numpy as np

    height, width = pixels.shape[:2]
    small = cv2.resize(
        pixels, (max(width // _PATCH_PX, 1), max(height // _PATCH_PX, 1)), interpolation=cv2.INTER_AREA
    )
    hue = 2 * cv2.cvtColor(small, cv2.COLOR_RGB2HSV)[..., 0].astype(int)  # degrees
    gaudy = np.ptp(small.astype(int), axis=2) > _GAUDY_CODES
    if np.all(np.abs(small.astype(int) - _BLANK) <= _BLANK_CODES, axis=2).mean() > _LEAST_BLANK:
        return True
    of_each = np.bincount(hue[gaudy] // 60, minlength=6) / gaudy.size

    def quarrels(a: tuple[slice, slice], b: tuple[slice, slice]) -> int:
        apart = np.abs(hue[a] - hue[b])
        return int((gaudy[a] & gaudy[b] & (np.minimum(apart, 360 - apart) > _HUES_APART)).sum())

    whole = slice(None)
    pairs = quarrels((whole, slice(-1)), (whole, slice(1, None)))
    pairs += quarrels((slice(-1), whole), (slice(1, None), whole))
    return bool(of_each.min() >= _LEAST_OF_EACH and pairs >= _QUARRELS * gaudy.size)


def has_strange_items(content: bytes) -> bool:
    """Whether an item of a HEIC has a type or a text that is no UTF-8, with which pi-heif 1.4 ends the process.

    Parameters
    ----------
    content : bytes
        Of the whole file. Every entry is looked at that its parser can meet, wherever it lies.
    """
    at = content.find(_ENTRY)
    while at >= 0:
        start = at
        at = content.find(_ENTRY, at + 1)
        if start < 4 or start + 8 > len(content):
            continue
        size = struct.unpack_from(">I", content, start - 4)[0]
        if (
            size < 2 or size > _LONGEST_ENTRY
        ):  # 0 and 1 stand for a box to the file's end, and for a longer size
            return True
        # Versions 0 and 1 have no type, and others none that is known: all is looked at.
        type_at = _TYPE_AT.get(content[start + 4], 8)
        try:
            content[start + type_at : start + size - 4].decode("utf-8")
        except UnicodeDecodeError:
            return True
    return False

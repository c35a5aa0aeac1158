"""HEIC files before they are handed to their decoder, and the decoder without what reading does not need."""

from __future__ import annotations

import struct

# Item info entry (ISO/IEC 14496-12, 8.11.6): after the box's type come its version and flags, then the item's number
# (two bytes, four in version 3), its protection (two), and in versions 2 and 3 its type; texts follow.
_ENTRY = b"infe"
_TYPE_AT = {2: 12, 3: 14}
# An entry holds a name and a kind of content, some dozens of bytes; none is as long as this [a choice].
_LONGEST_ENTRY = 4_096


def register_decoder() -> None:
    """Make Pillow open HEIC: pictures alone, without thumbnails, depth maps and gain maps."""
    from pi_heif import register_heif_opener

    register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)


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

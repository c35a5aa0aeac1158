"""The parts of a JPEG's file, one after the other, without decoding any (ITU-T T.81, annex B)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

SOI, EOI, SOS = 0xD8, 0xD9, 0xDA
"""Start of a picture, its end, start of a scan (T.81, table B.1)."""

ALONE = frozenset((0x01, *range(0xD0, 0xD8), SOI))
"""Markers without a length: temporary, restarts, and the start of a picture within another's file."""

STRAY = -1
"""In a marker's place: no byte of a file has this value."""

# After a scan's data: no stuffed byte, no restart, no filling (T.81, B.1.1.5).
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class Part(NamedTuple):
    """A segment, or a byte that belongs to none.

    Attributes
    ----------
    marker : int
        T.81, table B.1; `STRAY` for filling and bytes of no segment, which decoders pass over.
    start, stop : int
        In the file. A scan's holds the coded data after its segment.
    """

    marker: int
    start: int
    stop: int


def parts(content: bytes, *, head: bool = False) -> Iterator[Part]:
    """List parts up to the end of the first picture; an end without its mark is left to the decoder.

    Parameters
    ----------
    content : bytes
        Of a JPEG.
    head : bool
        Only up to the first scan, whose data is not looked at: its part is the segment alone.
    """
    at, end = 2, len(content)
    while at + 2 <= end:
        marker = content[at + 1]
        if content[at] != 0xFF or marker in (0x00, 0xFF):
            yield Part(STRAY, at, at + 1)
            at += 1
            continue
        if marker in ALONE or marker == EOI:
            yield Part(marker, at, at + 2)
            if marker == EOI:
                return
            at += 2
            continue
        if at + 4 > end:
            return
        stop = at + 2 + int.from_bytes(content[at + 2 : at + 4], "big")
        if marker == SOS and not head:
            found = _MARKER.search(content, stop)
            stop = end if found is None else found.start()
        yield Part(marker, at, min(stop, end))
        if marker == SOS and head:
            return
        at = stop

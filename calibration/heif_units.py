"""Whether the coded pictures in a HEIC are whole: what their units can hold, and where they end.

HEVC keeps three zero bytes out of its units, so that no part of a picture looks like the beginning of another (ITU-T
H.265, 7.4.1.1: a 3 is put in after two zeros). Sectors that a failing memory card lost are zeros; libde265 decodes on
over them, at times into a picture of which only a corner looks wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

# What no unit holds: zeros, or the beginning of another unit; a 3 that was put in stands before nothing above 3.
_FORBIDDEN = re.compile(rb"\x00\x00[\x00-\x02]|\x00\x00\x03[^\x00-\x03]", re.DOTALL)
_CODED = (b"hvc1", b"hev1")
# A unit's length takes four bytes in every file that phones write; its header two (H.265, 7.3.1.2).
_LENGTH_BYTES, _HEADER_BYTES = 4, 2
# More items, or parts of one, than any photo has (48 megapixels are 192 tiles): damaged counts cost no time [a choice].
_MOST_ITEMS = 20_000


def has_broken_units(content: bytes) -> bool:
    """Whether a coded picture of a HEIC holds bytes that no encoder writes.

    Parameters
    ----------
    content : bytes
        Of the whole file.

    Returns
    -------
    bool
        False, too, where the file's structure is not understood: its decoder knows more.
    """
    try:
        return any(_is_broken(data) for data in _coded_items(content))
    except (IndexError, ValueError):
        return False


def _is_broken(data: bytes) -> bool:
    """Whether units of a coded picture do not follow on each other to its end, or one cannot be what it is."""
    at = 0
    while at < len(data):
        begins = at + _LENGTH_BYTES
        at = begins + int.from_bytes(data[at:begins], "big")
        if at > len(data) or at < begins + _HEADER_BYTES or data[begins] & 0x80:
            return True
        if _FORBIDDEN.search(data, begins, at):
            return True
    return False


def _coded_items(content: bytes) -> Iterator[bytes]:
    """Yield the bytes of each coded picture: tiles, thumbnails and what else there is (ISO/IEC 14496-12, 8.11)."""
    meta = _inside(content, b"meta", 0, len(content))
    meta = slice(meta.start + 4, meta.stop)
    properties = _inside(content, b"iprp", meta.start, meta.stop)
    properties = _inside(content, b"ipco", properties.start, properties.stop)
    for kind, box in _boxes(content, properties.start, properties.stop):
        # The decoder's configuration says how long a length is (ISO/IEC 14496-15, 8.3.3.1).
        if kind == b"hvcC" and (content[box.start + 21] & 3) + 1 != _LENGTH_BYTES:
            return
    kinds = _kinds(content, _inside(content, b"iinf", meta.start, meta.stop))
    for item, parts in _places(content, _inside(content, b"iloc", meta.start, meta.stop)):
        if kinds.get(item) in _CODED:
            yield b"".join(content[part] for part in parts)


def _boxes(content: bytes, start: int, stop: int) -> Iterator[tuple[bytes, slice]]:
    """Walk through boxes that follow on each other: type, and where its content lies."""
    at = start
    while at + 8 <= stop:
        size, begins = int.from_bytes(content[at : at + 4], "big"), at + 8
        if size == 1:
            size, begins = int.from_bytes(content[begins : begins + 8], "big"), begins + 8
        ends = at + size if size else stop
        if ends < begins or ends > stop:
            raise ValueError("a box ends before it begins, or outside the one around it")
        yield content[at + 4 : at + 8], slice(begins, ends)
        at = ends


def _inside(content: bytes, kind: bytes, start: int, stop: int) -> slice:
    for found, box in _boxes(content, start, stop):
        if found == kind:
            return box
    raise ValueError("a box is missing")


def _kinds(content: bytes, box: slice) -> dict[int, bytes]:
    """Type of each item that has one (versions 2 and 3 of an entry)."""
    kinds = {}
    first = box.start + (6 if content[box.start] == 0 else 8)
    for _, entry in _boxes(content, first, box.stop):
        at, version = entry.start, content[entry.start]
        wide = {2: 2, 3: 4}.get(version)
        if wide is not None:
            kinds[_number(content, at + 4, wide)] = content[at + 6 + wide : at + 10 + wide]
    return kinds


def _places(content: bytes, box: slice) -> Iterator[tuple[int, list[slice]]]:
    """Yield number and parts of each item that lies in the file itself (construction method 0)."""
    at, version = box.start, content[box.start]
    of_offset, of_length = content[at + 4] >> 4, content[at + 4] & 15
    of_base, of_index = content[at + 5] >> 4, content[at + 5] & 15 if version else 0
    wide = 2 if version < 2 else 4
    # An item: its number, how it is built (version 1 on), a reference, its base, its parts. Fields as they follow:
    count, at = _number(content, at + 6, wide), at + 6 + wide
    if count > _MOST_ITEMS:
        raise ValueError("more items than any photo has")
    for _ in range(count):
        item, built, _, base, parts, at = _fields(content, at, wide, 2 if version else 0, 2, of_base, 2)
        if parts > _MOST_ITEMS:
            raise ValueError("more parts than any item has")
        found = []
        for _ in range(parts):
            _, offset, length, at = _fields(content, at, of_index, of_offset, of_length)
            found.append(slice(base + offset, base + offset + length if length else None))
        if built & 15 == 0:
            yield item, found


def _fields(content: bytes, at: int, *wide: int) -> list[int]:
    """Read numbers that follow on each other, and where the next one lies; a field of no bytes is 0."""
    places = [at]
    for one in wide:
        places.append(places[-1] + one)
    return [*(_number(content, a, b - a) for a, b in pairwise(places)), places[-1]]


def _number(content: bytes, at: int, wide: int) -> int:
    if at + wide > len(content):
        raise IndexError("the file ends")
    return int.from_bytes(content[at : at + wide], "big")

"""What reading a photo file may cost: limits that are asked before anything is decoded.

A small file can claim much: a PNG of 0.3 MB unpacks to a gigabyte, a JPEG can repeat its scans, a sparse file is long
and empty. The aim is that no file takes more than 1 GB or 10 s of processor time, and that a phone's largest photos
are read.
"""

from __future__ import annotations

import re
from itertools import islice

from calibration.jpeg_parts import parts

MAX_BYTES = 320_000_000
"""A hundred megapixels of uncompressed 8-bit RGB with a header: the largest file within the limit of pixels that
phones, cameras and converters write."""

MAX_JPEG_PIXELS = 110_000_000
"""Phones offer 12, 24, 48, 50, 64, 100 and 108 Mpx [from memory]. Reading 101 Mpx takes 0.91 GB at its peak
[measured]."""

MAX_HALVED_PIXELS = 220_000_000
"""Phones' largest sensors have 200 Mpx [from memory]. A larger JPEG is decoded at half its width and height,
which libjpeg does while it decodes; other formats cannot."""

MAX_OTHER_PIXELS = 102_000_000
"""Of HEIC, PNG, TIFF, WebP and AVIF, of which Pillow holds four bytes a pixel beside the array: a HEIC of 101 Mpx takes
0.99 GB [measured]."""

MAX_SCAN_PIXELS = 1_200_000_000
"""Pixels times scans of a JPEG. A scan of noise takes 6 ns a pixel, one of flat colour 0.5 [measured]: 7 s at most. The
usual ten scans of a progressive JPEG fit at `MAX_JPEG_PIXELS`."""

USUAL_SCANS = 12
"""A progressive JPEG has ten, and a phone's file has one or two previews of one each."""

_START_OF_SCAN = re.compile(rb"\xff\xda")


MOST_PARTS = 5_000
"""Segments of a JPEG before its picture, and bytes between them that belong to none. Cameras write some dozens of
segments; an ICC profile or a block of XMP in pieces of 64 kB takes 255 more at most (ICC.1:2022, annex B). A file of
millions of empty ones keeps parsers busy for 10 s and more [measured]."""

MOST_ASPECT = 200
"""Longer side by the shorter: panoramas have up to 10 [estimated]. What is much narrower has no pixel left once it is
shrunk to some 800 pixels."""


def has_too_many_parts(content: bytes) -> bool:
    """Whether a JPEG's head, up to its picture, has more segments or stray bytes than any camera writes."""
    return sum(1 for _ in islice(parts(content, head=True), MOST_PARTS + 1)) > MOST_PARTS


def scans(content: bytes) -> int:
    """Count a JPEG's scans, at most: previews stored in the file count as well.

    Within a scan's data a byte 0xFF is followed by a zero or a restart (ITU-T T.81, B.1.1.5), so that the marker is
    found nowhere but at a scan's start, in a preview, or by chance in a segment of metadata.
    """
    # Half the time of `bytes.count` [measured].
    return len(_START_OF_SCAN.findall(content))


def has_too_many_scans(pixels: int, scan_count: int) -> bool:
    """Whether a JPEG of so many pixels has more scans than its decoding is worth."""
    return scan_count > USUAL_SCANS and pixels * scan_count > MAX_SCAN_PIXELS

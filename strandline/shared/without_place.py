"""A photo's file without place, device and whatever else it says of its owner; the picture stays as it was.

Of the EXIF fields those are kept that reading takes: direction, sizes, focal length, digital zoom and time.
"""

from __future__ import annotations

import io
import struct
from itertools import islice
from typing import TYPE_CHECKING, Any

from calibration.errors import CalibrationError
from calibration.heif import has_strange_items, register_decoder
from calibration.jpeg_parts import ALONE, SOS, STRAY, Part, parts
from calibration.photo import quiet_pillow
from calibration.photo_limits import MAX_HALVED_PIXELS, MOST_PARTS
from calibration.pixels import as_array

if TYPE_CHECKING:
    from PIL import Image

# Tags: CIPA DC-008 (Exif 2.32), tables 4 to 8. Orientation, date, and of the Exif IFD date, pixel size, zoom, focal
# length for 35 mm film.
_BASE_TAGS = (0x0112, 0x0132)
_EXIF_IFD = 0x8769
_INNER_TAGS = (0x9003, 0xA002, 0xA003, 0xA404, 0xA405)

# JPEG markers: ITU-T T.81 (1992), table B.1.
_APP0, _APP1, _APP2, _APP14, _APP15, _COM = 0xE0, 0xE1, 0xE2, 0xEE, 0xEF, 0xFE
_ICC = b"ICC_PROFILE\0"

# What phones write beside JPEG, and what people turn it into; Pillow knows many more kinds, some of them old and
# little tested.
_FORMATS = ("PNG", "HEIF", "AVIF", "TIFF", "WEBP")
# What another kind of file becomes: as large as a phone's own best JPEG, lengths agree to a hundredth of a mm.
_QUALITY = 96


# A block of EXIF without fields: the header of a TIFF (TIFF 6.0, section 2) and a directory of none.
_NO_FIELDS = b"MM\0*\0\0\0\x08\0\0\0\0\0\0"

# The machine that reads it counts scans itself; here only a chain without end is in the way.
MOST_SCANS_SENT = 10_000
# Signatures of JPEG, PNG, TIFF in either byte order, BigTIFF, WebP.
_PICTURES = (b"\xff\xd8", b"\x89PNG", b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"RIFF")
_FIRST_BYTES = 16
_SEND_ORIGINAL = "Send the original file from the camera."


class TooManyScans(CalibrationError):
    """A JPEG that passes over its picture more often than any camera's."""


class TooManyParts(CalibrationError):
    """A JPEG of more segments than any camera writes."""


class TooManyPixels(CalibrationError):
    """A picture that is larger than a phone's."""


def without_place(content: bytes, most_scans: int, most_pixels: int) -> bytes:
    """Give a photo's file without place, device and other words.

    Parameters
    ----------
    content : bytes
        Of a JPEG, HEIC, AVIF, PNG, TIFF or WebP.
    most_scans : int
        Of a JPEG.
    most_pixels : int
        By the file's header: a larger picture is never decoded.

    Returns
    -------
    bytes
        A JPEG is copied part by part, a HEIC in place, byte for byte of the picture; of the other kinds the picture is
        written as a JPEG.

    Raises
    ------
    TooManyScans, TooManyParts, TooManyPixels
    OSError, ValueError
        It cannot be opened.
    """
    with quiet_pillow():
        return _without_place(content, most_scans, most_pixels)


def _without_place(content: bytes, most_scans: int, most_pixels: int) -> bytes:
    if content[:2] == b"\xff\xd8":
        segments = _segments(content)
        scans = sum(one.marker == SOS for one in segments)
        if scans > most_scans:
            raise TooManyScans(
                f"The file passes over its picture {scans} times; cameras' do so 13 times at most.",
                _SEND_ORIGINAL,
            )
        return _jpeg(content, segments, most_pixels)
    return _other(content, most_pixels)


def ending_of(content: bytes) -> str:
    """Give the ending of a file's name for what `without_place` made: it makes JPEG of all kinds but HEIC."""
    return ".heic" if content[4:8] == b"ftyp" else ".jpg"


def fit_to_send(content: bytes) -> bytes:
    """Give what another machine needs of a file in order to read it: the picture without place and device.

    A picture that cannot be opened is cut to its first bytes, which are enough to say that it is damaged. A file that
    is no picture is left as it is.
    """
    try:
        return without_place(content, MOST_SCANS_SENT, MAX_HALVED_PIXELS)
    except (
        Exception
    ):  # parsers of many kinds, on files that may be made to break them; whoever reads it says what is wrong
        return content[:_FIRST_BYTES] if content.startswith(_PICTURES) or content[4:8] == b"ftyp" else content


def _refuse_large(image: Image.Image, most_pixels: int) -> None:
    width, height = image.size
    if width * height > most_pixels:
        raise TooManyPixels(
            f"{width} x {height} px is more than the limit of {most_pixels / 1e6:g} megapixels.",
            "Set the camera to a smaller size; 12 to 50 megapixels are plenty.",
        )


def _segments(content: bytes) -> list[Part]:
    """List a JPEG's segments up to the end of its first picture."""
    found = list(islice(parts(content), MOST_PARTS + 1))
    if len(found) > MOST_PARTS:  # between scans there is little, or it is made to take long
        raise TooManyParts("The file has thousands of parts.", _SEND_ORIGINAL)
    return [one for one in found if one.marker not in (STRAY, *ALONE)]


def _jpeg(content: bytes, segments: list[Part], most_pixels: int) -> bytes:
    """Copy a JPEG without its application data and comments, and with an EXIF block of its own."""
    from PIL import Image

    with Image.open(io.BytesIO(content), formats=["JPEG"]) as image:
        _refuse_large(image, most_pixels)
        exif = kept_exif(image)
    pieces = [b"\xff\xd8"]
    if exif:
        pieces.append(struct.pack(">BBH", 0xFF, _APP1, len(exif) + 2) + exif)
    for marker, start, stop in segments:
        if marker == _COM or (_APP0 <= marker <= _APP15 and not _is_of_the_colours(content, marker, start)):
            continue
        pieces.append(content[start:stop])
    return b"".join(pieces)


def _is_of_the_colours(content: bytes, marker: int, start: int) -> bool:
    """Whether a segment says how the colours are coded: without it the picture would change."""
    if marker == _APP2:
        return content[start + 4 : start + 4 + len(_ICC)] == _ICC
    return marker in (_APP0, _APP14) and content[start + 4 : start + 9] in (b"JFIF\0", b"Adobe")


def _other(content: bytes, most_pixels: int) -> bytes:
    from PIL import Image, ImageOps

    if content[4:8] == b"ftyp":
        if has_strange_items(content):
            raise ValueError("It holds something without a name.")
        register_decoder()
    known = [
        one for one in _FORMATS if one in Image.OPEN or one != "HEIF"
    ]  # it is there once it was registered
    with Image.open(io.BytesIO(content), formats=known) as image:
        _refuse_large(image, most_pixels)
        if image.format == "HEIF":
            found = _in_place(content, image)
            if found is not None:
                return found
        upright = ImageOps.exif_transpose(image)
        exif = kept_exif(image, upright_already=True)
        icc = image.info.get("icc_profile")
        buffer = io.BytesIO()
        Image.fromarray(as_array(upright)).save(
            buffer, "JPEG", quality=_QUALITY, subsampling=0, exif=exif or b"", icc_profile=icc
        )
    return buffer.getvalue()


def _in_place(content: bytes, image: Image.Image) -> bytes | None:
    """Overwrite the EXIF and XMP blocks of a HEIC; None where one of them is not found in one piece.

    The blocks are items of the container (ISO/IEC 23008-12, annex A), stored as they are; their lengths must not
    change, for the container names the places of all that follows.
    """
    from pi_heif import open_heif

    found = bytearray(content)
    stored = open_heif(io.BytesIO(content)).info  # as they are in the file: Pillow's image has them changed
    # The direction is the container's own; the block's repeats it.
    new = kept_exif(image, upright_already=True)[6:] or _NO_FIELDS
    for block, instead in ((stored.get("exif"), new), (stored.get("xmp"), b"")):
        if not block:
            continue
        raw = bytes(block).removeprefix(b"Exif\0\0")
        at = content.find(raw)
        if at < 0 or len(instead) > len(raw):
            return None
        found[at : at + len(raw)] = instead.ljust(len(raw), b"\0")
    return bytes(found) if not _names_a_place(bytes(found)) else None


def _names_a_place(content: bytes) -> bool:
    """Whether the file still has a table of the place, or a block of words."""
    from PIL import Image

    if has_strange_items(content):  # the blocks that were overwritten lay where they must not
        return True
    with Image.open(io.BytesIO(content)) as image:
        return 0x8825 in image.getexif() or bool(bytes(image.info.get("xmp") or b"").strip(b"\0"))


def kept_exif(image: Image.Image, *, upright_already: bool = False) -> bytes:
    """Make an EXIF block of the fields that reading takes; empty where there are none.

    Parameters
    ----------
    image : PIL Image
        Its header has been read.
    upright_already : bool
        Leave the direction out.
    """
    from PIL import Image as Pillow

    try:
        before = image.getexif()
        inner: dict[int, Any] = dict(before.get_ifd(_EXIF_IFD))
    except (OSError, ValueError, TypeError, KeyError, IndexError, SyntaxError, ArithmeticError, struct.error):
        return b""  # a broken block counts as missing, as in reading
    made = Pillow.Exif()
    for tag in _BASE_TAGS:
        if tag in before and not (upright_already and tag == _BASE_TAGS[0]):
            made[tag] = before[tag]
    kept = {tag: inner[tag] for tag in _INNER_TAGS if tag in inner}
    if kept:
        made.get_ifd(_EXIF_IFD).update(kept)
    if not made and not kept:
        return b""
    try:
        return made.tobytes()
    except (ValueError, TypeError, struct.error, OverflowError, AttributeError):
        return b""

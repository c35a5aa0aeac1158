"""Strict reading of a photo file to 8-bit RGB with its EXIF fields."""

from __future__ import annotations

import errno
import hashlib
import io
import logging
import os
import stat
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from calibration.address_space import too_little_for
from calibration.errors import CalibrationError
from calibration.exif import ORIENTATION_TAG, ExifFacts, read_exif
from calibration.heif import has_strange_items, looks_torn, register_decoder
from calibration.heif_units import has_broken_units
from calibration.jpeg import can_be_halved, decoded_jpeg
from calibration.photo_limits import (
    MAX_BYTES,
    MAX_JPEG_PIXELS,
    MAX_OTHER_PIXELS,
    MOST_ASPECT,
    has_too_many_parts,
    has_too_many_scans,
    scans,
)
from calibration.pixels import UnknownPixels, as_array
from calibration.upright import mirrored_and_turns, turned_size, unmirrored

if TYPE_CHECKING:
    from PIL import Image

FORMATS = ("JPEG", "PNG", "HEIF", "AVIF", "TIFF", "WEBP")
"""Formats that phones and cameras write, or that people convert these to. Pillow opens a JPEG followed by further
images (MPO) as JPEG and renames it."""

SEVERAL_PICTURES_ARE_USUAL = ("MPO", "HEIF")
"""Formats in which phones store depth maps and previews after the photo: the first image is the photo."""

_DNG_VERSION = 50706
"""TIFF tag of a raw file (Digital Negative 1.7, DNGVersion); the image that opens is only its preview."""

_SEND_ORIGINAL = "Send the original file from the camera, as JPEG or HEIC."

# First bytes of files sent by mistake (offset, bytes, kind).
_MISTAKES = (
    (0, b"GIF8", "a GIF"),
    (0, b"BM", "a BMP"),
    (0, b"%PDF", "a PDF"),
    (0, b"8BPS", "a layered picture"),
    (0, b"PK\x03\x04", "an archive"),
    (0, b"\x1aE\xdf\xa3", "a video"),
    (4, b"ftypmp4", "a video"),
    (4, b"ftypisom", "a video"),
    (4, b"ftypqt", "a video"),
)

_pillow_lock = threading.RLock()
# What Pillow logs of a broken file is said in words by whoever opens it.
logging.getLogger("PIL").addHandler(logging.NullHandler())


class PhotoError(CalibrationError):
    """A photo file that cannot be used; the message names it."""


@dataclass(frozen=True)
class Photo:
    """A photo file, decoded.

    Attributes
    ----------
    stored : ndarray of uint8, shape (h, w, 3)
        R, G, B, sRGB-encoded, as decoded (Pillow and pi-heif rotate some by themselves), but never mirrored.
        Read-only.
    quarter_turns : int
        Quarter turns clockwise that make it upright, 0 to 3.
    path : Path
    sha256 : str
        Of the file's bytes, hexadecimal.
    exif : ExifFacts
    """

    stored: np.ndarray
    quarter_turns: int
    path: Path
    sha256: str
    exif: ExifFacts

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the upright picture, px."""
        height, width = self.stored.shape[:2]
        return turned_size((width, height), self.quarter_turns)


def load_photo(path: str | Path, *, max_pixels: int | None = None) -> Photo:
    """Read a photo.

    Colour spaces, transparency and depth become 8-bit RGB, see `calibration.pixels.to_rgb`.

    Parameters
    ----------
    path : str or Path
    max_pixels : int, optional
        Refuse larger ones before decoding; otherwise the limits of `calibration.photo_limits` hold.

    Returns
    -------
    Photo

    Raises
    ------
    PhotoError
        The file is missing, unreadable, a folder, empty, no image, of an unsupported kind, damaged, truncated,
        too large, or holds several images.
    """
    path = Path(path)
    content = _read_bytes(path)
    image = _open(path, content)
    with image:
        _refuse_costly(path, image, content, max_pixels)
        _refuse_several(path, image)
        with quiet_pillow():
            exif = read_exif(image)
        stored, quarter_turns = _decode(path, image, content, exif.orientation)
    stored.flags.writeable = False
    return Photo(
        stored=stored,
        quarter_turns=quarter_turns,
        path=path,
        sha256=hashlib.sha256(content).hexdigest(),
        exif=exif,
    )


def _refuse_costly(path: Path, image: Image.Image, content: bytes, max_pixels: int | None) -> None:
    """Refuse by the header what would take too much memory or time to decode."""
    pixels = image.width * image.height
    if max(image.size) > MOST_ASPECT * min(image.size):
        raise PhotoError(f"{path}: no photo is {image.width} x {image.height} px.", _SEND_ORIGINAL)
    if (space := too_little_for(pixels)) is not None:
        raise PhotoError(
            f"{path} needs {space[1]:.1f} GB of address space to be read, and this process is allowed {space[0]:.1f}.",
            "Raise the limit, for example with ulimit -v unlimited.",
        )
    is_jpeg = image.format in ("JPEG", "MPO")
    limit = max_pixels or (MAX_JPEG_PIXELS if is_jpeg else MAX_OTHER_PIXELS)
    if pixels > limit and not (is_jpeg and max_pixels is None and can_be_halved(image, content)):
        raise PhotoError(
            f"{path}: {image.width} x {image.height} px is more than the limit of {limit / 1e6:g} megapixels.",
            "Set the camera to a smaller size; 8 to 50 megapixels are plenty.",
        )
    if is_jpeg and has_too_many_scans(pixels, found := scans(content)):
        raise PhotoError(f"{path}: no camera writes a JPEG of {found} scans.", _SEND_ORIGINAL)


def _bytes_of(path: Path) -> bytes:
    """Read a file that was regular and not too large a moment ago.

    O_NONBLOCK: a pipe that took its place meanwhile is opened at once, and then refused.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        its = os.fstat(handle)
        if not stat.S_ISREG(its.st_mode) or its.st_size > MAX_BYTES:
            raise OSError(errno.EINVAL, "it is no photo any more")
        content = file.read(its.st_size + 1)
    if len(content) > its.st_size:  # it grows, or is one of the system's files, which say 0 bytes
        raise OSError(errno.EINVAL, "it is still being written")
    return content


def _read_bytes(path: Path) -> bytes:
    """Read the whole file, or raise with the reason."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise PhotoError(f"{path} is a folder.", "Name the photo files in it, for example with *.jpg.")
        if not stat.S_ISREG(found.st_mode):
            raise PhotoError(f"{path} is not a file.", "Name a photo file.")
        if found.st_size > MAX_BYTES:
            raise PhotoError(
                f"{path}: {found.st_size / 1e9:.1f} GB is too large for a photo.", _SEND_ORIGINAL
            )
        content = _bytes_of(path)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise PhotoError(f"{path} does not exist.", "Check the name and the folder.") from error
    except PermissionError as error:
        raise PhotoError(
            f"{path} may not be read by you.", "Change its permissions, or copy it to a folder of your own."
        ) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise PhotoError(
            f"{path} cannot be read: {why}.", "Copy it to this machine and try again."
        ) from error
    if not content:
        raise PhotoError(f"{path} is empty (zero bytes).", "Copy it from the phone again.")
    return content


@contextmanager
def quiet_pillow() -> Iterator[None]:
    """Disable Pillow's own pixel cap and its warnings; both are global, hence the lock.

    Pillow's cap, 89 Mpx, is less than phones have: whoever opens a photo has a cap of its own. What Pillow warns of,
    such as a field of EXIF that ends early, counts as missing and is nothing to be read on a terminal.
    """
    from PIL import Image

    with _pillow_lock, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        cap = Image.MAX_IMAGE_PIXELS
        Image.MAX_IMAGE_PIXELS = None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = cap


def _open(path: Path, content: bytes) -> Image.Image:
    """Open the image: read the header, decode nothing."""
    from PIL import Image, UnidentifiedImageError

    for offset, mark, name in _MISTAKES:
        if content[offset : offset + len(mark)] == mark:
            raise PhotoError(f"{path} is {name}, which is not read.", _SEND_ORIGINAL)
    if content[:2] == b"\xff\xd8" and has_too_many_parts(content):
        raise PhotoError(f"{path}: no camera writes a JPEG of thousands of parts.", _SEND_ORIGINAL)
    formats = list(FORMATS)
    if content[4:8] == b"ftyp":
        if has_strange_items(content):
            raise PhotoError(f"{path} is damaged: it holds something without a name.", _SEND_ORIGINAL)
        if has_broken_units(content):
            raise PhotoError(
                f"{path} is damaged: it holds bytes that no camera writes.", "Copy it from the phone again."
            )
        register_decoder()
    else:
        formats.remove("HEIF")
    try:
        with quiet_pillow():
            return Image.open(io.BytesIO(content), formats=formats)
    except UnidentifiedImageError as error:
        raise PhotoError(f"{path} is not a picture that can be read.", _SEND_ORIGINAL) from error
    except Exception as error:
        raise _damaged(path, error) from error


def _refuse_several(path: Path, image: Image.Image) -> None:
    """Refuse animations, scans of several pages, and raw files, of which only the preview would open."""
    frames, is_raw = 1, False
    try:
        with quiet_pillow():
            if image.format == "TIFF":
                is_raw = _DNG_VERSION in image.getexif()
                frames = 2 if _has_second_page(image) else 1
            elif image.format not in SEVERAL_PICTURES_ARE_USUAL:
                frames = getattr(image, "n_frames", 1)
    except Exception as error:
        raise _damaged(path, error) from error
    if is_raw:
        raise PhotoError(f"{path} is a raw file.", "Send the JPEG or HEIC that the camera made beside it.")
    if frames > 1:
        raise PhotoError(
            f"{path} holds several pictures (an animation or several pages).", "Send one still photo."
        )


def _has_second_page(image: Image.Image) -> bool:
    """Whether a TIFF goes on; a chain of a hundred thousand pages would take minutes to count."""
    try:
        image.seek(1)
    except EOFError:
        return False
    return True


def _decode(path: Path, image: Image.Image, content: bytes, orientation: int) -> tuple[np.ndarray, int]:
    """Decode strictly to 8-bit RGB, and return the quarter turns clockwise that make it upright.

    Pillow raises where data are missing; `cv2.imread` would return an image with a blank bottom.
    """
    try:
        pixels = decoded_jpeg(image, content)
        if pixels is None:
            with quiet_pillow():
                image.load()
            pixels = as_array(image)
            if image.format == "HEIF" and looks_torn(pixels):
                raise PhotoError(
                    f"{path} is damaged: parts of the picture are patches of every colour.",
                    "Copy it from the phone again.",
                )
        # Checked after decoding: Pillow rotates a TIFF while decoding and removes the tag; a HEIC arrives rotated,
        # with the tag reset to 1 by pi-heif. Neither must be rotated twice.
        if orientation != 1 and ORIENTATION_TAG not in image.getexif():
            orientation = 1
        mirrored, turns = mirrored_and_turns(orientation)
        return unmirrored(pixels, mirrored), turns
    except MemoryError as error:
        raise PhotoError(
            f"{path}: {image.width} x {image.height} px do not fit into memory.",
            "Set the camera to a smaller size.",
        ) from error
    except PhotoError:
        raise
    except UnknownPixels as error:
        raise PhotoError(f"{path} holds {error}, which is not read.", _SEND_ORIGINAL) from error
    except Exception as error:
        raise _damaged(path, error) from error


def _damaged(path: Path, error: Exception) -> PhotoError:
    words = str(error)
    if "truncated" in words.lower() or "end of file" in words.lower() or isinstance(error, EOFError):
        return PhotoError(
            f"{path} is cut short: a part of the picture is missing.", "Copy it from the phone again."
        )
    return PhotoError(f"{path} is damaged: {words or type(error).__name__}.", "Copy it from the phone again.")

"""Ways in which a photo is spoilt between the phone and the reading, each drawn from a random generator.

Faults of the file act on its bytes; faults of the picture on its stored pixels, which are then saved as JPEG with the
photo's own EXIF. No fault changes a length on the shaft: a spoilt photo is read rightly or not at all.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bench.drawn_card import card_picture, drawn_in, somewhere, suited

# JPEG quality of a picture that is saved anew for another fault's sake: what phones and editors write.
QUALITY = 92
# EXIF (CIPA DC-008): the inner directory, and the focal length in 35 mm terms there.
_EXIF_IFD, _FOCAL_35MM = 0x8769, 0xA405
# Bytes before the middle of a damaged file that stay whole: damage of the header is another matter, since no
# decoder opens such a file.
_HEADER_SHARE = 0.1


@dataclass(frozen=True)
class Original:
    """A photo as it is before it is spoilt.

    Attributes
    ----------
    content : bytes
        Its file.
    pixels : ndarray of uint8, shape (h, w, 3)
        R, G, B as stored.
    exif : bytes
        As its file holds it; empty where there is none.
    card : int or None
        Number of the card in it.
    """

    content: bytes
    pixels: np.ndarray
    exif: bytes
    card: int | None


@dataclass(frozen=True)
class Fault:
    """One way of spoiling.

    Attributes
    ----------
    name : str
    spoil : callable
        From an original and a generator to a file's bytes.
    damage : bool
        The file itself is damaged, so that it should be refused as a whole.
    """

    name: str
    spoil: Callable[[Original, np.random.Generator], bytes]
    damage: bool = False


def original(content: bytes, card: int | None) -> Original:
    """Decode a photo without turning it upright."""
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener()
    with Image.open(io.BytesIO(content)) as image:
        exif = image.getexif().tobytes()
        return Original(content, np.asarray(image.convert("RGB")), exif, card)


def _saved(pixels: np.ndarray, exif: bytes, quality: int = QUALITY) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    whole = np.clip(np.rint(pixels), 0, 255).astype(np.uint8)
    Image.fromarray(whole).save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()


# --- the file -------------------------------------------------------------------------------------------------------


def _truncated(photo: Original, rng: np.random.Generator) -> bytes:
    return photo.content[: int(len(photo.content) * rng.uniform(0.2, 0.98))]


def _bits_flipped(photo: Original, rng: np.random.Generator) -> bytes:
    content = bytearray(photo.content)
    for _ in range(int(rng.integers(1, 20))):
        place = int(rng.uniform(_HEADER_SHARE, 1) * len(content))
        content[min(place, len(content) - 1)] ^= 1 << int(rng.integers(8))
    return bytes(content)


def _bytes_lost(photo: Original, rng: np.random.Generator) -> bytes:
    """Zero a run of bytes, as a failing memory card does: whole sectors of 512 bytes."""
    content = bytearray(photo.content)
    length = 512 * int(rng.integers(1, 9))
    start = int(rng.uniform(_HEADER_SHARE, 0.95) * len(content))
    end = min(start + length, len(content))
    content[start:end] = bytes(end - start)
    return bytes(content)


def _false_focal(photo: Original, rng: np.random.Generator) -> bytes:
    """Claim another lens: 0.55 to 1.8 times the focal length, as cutting, zoom and converters leave it."""
    from PIL import Image

    exif = Image.Exif()
    exif.load(photo.exif)
    inner = exif.get_ifd(_EXIF_IFD)
    factor = float(np.exp(rng.uniform(0.1, 0.59)) ** rng.choice((-1, 1)))
    inner[_FOCAL_35MM] = max(1, round(factor * float(inner.get(_FOCAL_35MM) or 26)))
    return _saved(photo.pixels, exif.tobytes())


def _no_exif(photo: Original, rng: np.random.Generator) -> bytes:
    # EXIF holds the orientation too; a program that drops it turns the pixels first.
    return _saved(np.rot90(photo.pixels, int(rng.integers(4))), b"")


# --- the picture ----------------------------------------------------------------------------------------------------


def _cropped(photo: Original, rng: np.random.Generator) -> bytes:
    high, wide = photo.pixels.shape[:2]
    keep = rng.uniform(0.6, 0.97, 2)
    top, left = (
        int(rng.uniform(0, 1 - share) * side) for share, side in zip(keep, (high, wide), strict=True)
    )
    return _saved(
        photo.pixels[top : top + int(keep[0] * high), left : left + int(keep[1] * wide)], photo.exif
    )


def _recompressed(photo: Original, rng: np.random.Generator) -> bytes:
    return _saved(photo.pixels, photo.exif, int(rng.integers(15, 60)))


def _resized(pixels: np.ndarray, wide: int, high: int) -> np.ndarray:
    import cv2

    resized: np.ndarray = cv2.resize(pixels, (max(wide, 1), max(high, 1)), interpolation=cv2.INTER_AREA)
    return resized


def _unequal(photo: Original, rng: np.random.Generator) -> bytes:
    high, wide = photo.pixels.shape[:2]
    factor = rng.uniform(0.8, 0.97)
    along = bool(rng.integers(2))
    return _saved(
        _resized(
            photo.pixels, round(wide * (1 if along else factor)), round(high * (factor if along else 1))
        ),
        photo.exif,
    )


def _shrunk(photo: Original, rng: np.random.Generator) -> bytes:
    high, wide = photo.pixels.shape[:2]
    factor = rng.uniform(0.3, 0.8)
    return _saved(_resized(photo.pixels, round(wide * factor), round(high * factor)), photo.exif)


def _messenger(photo: Original, rng: np.random.Generator) -> bytes:
    """Send by messenger: 1,280 or 1,600 px long, squeezed, without EXIF."""
    high, wide = photo.pixels.shape[:2]
    factor = min(1.0, float(rng.choice((1280, 1600))) / max(high, wide))
    small = _resized(photo.pixels, round(wide * factor), round(high * factor))
    return _saved(small, b"", int(rng.integers(60, 82)))


def _mirrored(photo: Original, rng: np.random.Generator) -> bytes:
    return _saved(photo.pixels[:, ::-1] if rng.integers(2) else photo.pixels[::-1], photo.exif)


def _overexposed(photo: Original, rng: np.random.Generator) -> bytes:
    linear = (photo.pixels / 255.0) ** 2.2 * rng.uniform(1.5, 6.0)
    return _saved(255 * np.clip(linear, 0, 1) ** (1 / 2.2), photo.exif)


def _darkened(photo: Original, rng: np.random.Generator) -> bytes:
    linear = (photo.pixels / 255.0) ** 2.2 * rng.uniform(0.01, 0.3)
    return _saved(255 * linear ** (1 / 2.2) + rng.normal(0, 3, photo.pixels.shape), photo.exif)


def _blurred(photo: Original, rng: np.random.Generator) -> bytes:
    import cv2

    return _saved(cv2.GaussianBlur(photo.pixels, (0, 0), rng.uniform(0.8, 6.0)), photo.exif)


def _shaken(photo: Original, rng: np.random.Generator) -> bytes:
    import cv2

    length, angle = rng.uniform(3, 25), rng.uniform(0, np.pi)
    side = int(length) | 1
    kernel = np.zeros((side, side), np.float32)
    half = 0.5 * (side - 1)
    for step in np.linspace(-half, half, 4 * side):
        kernel[round(half + step * np.sin(angle)), round(half + step * np.cos(angle))] += 1
    return _saved(cv2.filter2D(photo.pixels, -1, kernel / kernel.sum()), photo.exif)


def _rotated(photo: Original, rng: np.random.Generator) -> bytes:
    import cv2

    high, wide = photo.pixels.shape[:2]
    turn = cv2.getRotationMatrix2D(((wide - 1) / 2, (high - 1) / 2), rng.uniform(-45, 45), 1.0)
    return _saved(cv2.warpAffine(photo.pixels, turn, (wide, high), flags=cv2.INTER_LINEAR), photo.exif)


def _noise(photo: Original, rng: np.random.Generator) -> bytes:
    grain = rng.normal(0, rng.uniform(8, 50), photo.pixels.shape).astype(np.float32)
    return _saved(photo.pixels + grain, photo.exif)


def _colours(photo: Original, rng: np.random.Generator) -> bytes:
    """Shift colours and tones, as a filter does; or make it grey."""
    if rng.integers(3) == 0:
        grey = photo.pixels.mean(axis=2, keepdims=True)
        return _saved(np.broadcast_to(grey, photo.pixels.shape), photo.exif)
    toned = 255 * (photo.pixels / 255.0) ** rng.uniform(0.5, 2.0, 3)
    return _saved(toned, photo.exif)


def _blotched(pixels: np.ndarray, centres: np.ndarray, radius: float, rng: np.random.Generator) -> np.ndarray:
    import cv2

    out = pixels.copy()
    for x, y in centres:
        axes = tuple(int(max(2, radius * rng.uniform(0.3, 1.0))) for _ in range(2))
        colour = tuple(int(one) for one in rng.integers(0, 256, 3))
        cv2.ellipse(out, (int(x), int(y)), axes, float(rng.uniform(0, 180)), 0, 360, colour, -1)
    return out


def _card_corners(photo: Original) -> np.ndarray | None:
    """Corners of the card's squares that are seen, px, shape (n, 2)."""
    import cv2

    from calibration.find_card import CardError, find_card

    try:
        sighting = find_card(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY))
    except CardError:  # such a photo is blotched anywhere
        return None
    corners: np.ndarray = np.asarray(sighting.corners_px, float).reshape(-1, 2)
    return corners if len(corners) else None


def _card_blotched(photo: Original, rng: np.random.Generator) -> bytes:
    corners = _card_corners(photo)
    if corners is None:
        return _painted(photo, rng)
    centres = corners[rng.integers(len(corners), size=int(rng.integers(1, 7)))]
    radius = 0.12 * float(np.ptp(corners, axis=0).max())
    return _saved(_blotched(photo.pixels, centres, radius, rng), photo.exif)


def _painted(photo: Original, rng: np.random.Generator) -> bytes:
    """Paint blotches anywhere: fingers, cables, stickers in front of what matters."""
    high, wide = photo.pixels.shape[:2]
    centres = rng.uniform((0, 0), (wide, high), (int(rng.integers(2, 12)), 2))
    return _saved(_blotched(photo.pixels, centres, 0.06 * max(high, wide), rng), photo.exif)


def _second_card(photo: Original, rng: np.random.Generator) -> bytes:
    """Lay another card, or a second one of the same number, somewhere into the picture."""
    number = int(rng.integers(47))
    if photo.card is not None and rng.integers(4) == 0:
        number = photo.card
    high, wide = photo.pixels.shape[:2]
    placed = suited(photo.pixels, somewhere((wide, high), rng, (0.2, 0.6)))
    return _saved(drawn_in(photo.pixels, card_picture(number), placed, rng), photo.exif)


FAULTS = (
    Fault("truncated", _truncated, damage=True),
    Fault("bits flipped", _bits_flipped, damage=True),
    Fault("bytes lost", _bytes_lost, damage=True),
    Fault("false focal length", _false_focal),
    Fault("no EXIF", _no_exif),
    Fault("cropped", _cropped),
    Fault("recompressed", _recompressed),
    Fault("scaled unequally", _unequal),
    Fault("shrunk", _shrunk),
    Fault("sent by messenger", _messenger),
    Fault("mirrored", _mirrored),
    Fault("overexposed", _overexposed),
    Fault("darkened", _darkened),
    Fault("blurred", _blurred),
    Fault("shaken", _shaken),
    Fault("rotated", _rotated),
    Fault("noise", _noise),
    Fault("colours", _colours),
    Fault("blotches on the card", _card_blotched),
    Fault("blotches anywhere", _painted),
    Fault("second card", _second_card),
)
"""Every fault, in the order in which they are drawn."""


def picture_changed(photo: Original, content: bytes) -> bool:
    """Whether a damaged file still opens, leniently, and shows another picture than the photo.

    A thousandth of the pixels differs by more than 8 code values: less shows on no edge.
    """
    from PIL import Image, ImageFile

    ImageFile.LOAD_TRUNCATED_IMAGES = True
    try:
        with Image.open(io.BytesIO(content)) as image:
            shown = np.asarray(image.convert("RGB"))
    except Exception:  # no decoder opens it
        return True
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = False
    if shown.shape != photo.pixels.shape:
        return True
    return bool((np.abs(shown.astype(int) - photo.pixels).max(axis=2) > 8).mean() > 1e-3)

"""What a kept photo still says: looked at with exiftool, a second reader, and with the program's own decoder."""

from __future__ import annotations

import io
import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.Image import Exif

from calibration.photo import load_photo
from strandline.shared.without_place import TooManyPixels, TooManyScans, ending_of, without_place
from tests.helpers.garage_server import FORK

LIMITS = (40, 64_000_000)
PLACE = {1: "N", 2: (47.0, 30.0, 0.0), 3: "E", 4: (8.0, 30.0, 0.0)}
XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'><place>47.5, 8.5</place></x:xmpmeta>"
# Names of exiftool's fields that say where, with what, or who; the picture's own (size, coding) may stay.
TELLING = (
    "GPS",
    "Make",
    "Model",
    "Serial",
    "Artist",
    "Copyright",
    "Lens",
    "Software",
    "XMP",
    "Comment",
    "Owner",
    "Host",
)


def telling_exif() -> Exif:
    """Make an EXIF block as phones write it: place, device and owner beside what reading needs."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0131] = "Invented maker", "Invented phone", "Invented 1.0"
    exif[0x013B], exif[0x8298] = "Invented owner", "Invented owner"
    exif[0x0112], exif[0x0132] = 6, "2026:11:09 10:00:00"
    inner = exif.get_ifd(0x8769)
    inner[0x9003], inner[0xA405], inner[0xA402] = "2026:11:09 10:00:00", 26, 0
    inner[0xA002], inner[0xA003], inner[0xA431] = 320, 240, "Serial 4711"
    inner[0x927C] = b"maker's note: 47.5 N 8.5 E" * 20
    exif.get_ifd(0x8825).update(PLACE)
    return exif


def picture() -> Image.Image:
    rng = np.random.default_rng(20)
    # Of muted colours: patches of all gaudy ones are what a damaged HEIC decodes to.
    small = rng.integers(90, 160, (24, 32, 3), dtype=np.uint8)
    return Image.fromarray(small).resize((320, 240), Image.Resampling.BICUBIC)


def encoded(kind: str) -> bytes:
    from pillow_heif import register_heif_opener

    register_heif_opener()
    buffer = io.BytesIO()
    options = {"exif": telling_exif().tobytes()}
    if kind != "TIFF":
        options["xmp"] = XMP
    if kind == "JPEG":
        options["comment"] = b"taken at 47.5, 8.5"
    if kind == "TIFF":
        picture().save(buffer, kind, exif=telling_exif())
    else:
        picture().save(buffer, kind, **options)
    return buffer.getvalue()


def said_of(content: bytes, path: Path, exiftool: str) -> dict[str, object]:
    path.write_bytes(content)
    found = subprocess.run(
        [exiftool, "-json", "-a", "-G1", "-ee", str(path)], capture_output=True, text=True, check=True
    )
    fields: dict[str, object] = json.loads(found.stdout)[0]
    return {
        key: value
        for key, value in fields.items()
        if not key.startswith(("System:", "ExifTool:", "SourceFile"))
    }


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "AVIF", "PNG", "WEBP", "TIFF"])
def test_place_device_and_owner_are_gone_and_the_picture_stays(
    kind: str, tmp_path: Path, exiftool: str
) -> None:
    content = encoded(kind)
    before = said_of(content, tmp_path / f"before.{kind.lower()}", exiftool)
    assert any(word in key for key in before for word in ("GPS", "Make")), "the photo says where it was taken"
    kept = without_place(content, *LIMITS)
    after = said_of(kept, tmp_path / "after.bin", exiftool)
    assert not [key for key in after if any(word in key for word in TELLING)], after
    assert after["File:FileType"] == {".jpg": "JPEG", ".heic": "HEIC"}[ending_of(kept)]
    for secret in (b"Invented", b"4711", b"47.5", b"maker's note", b"Serial"):
        assert secret not in kept
    (tmp_path / "original").write_bytes(content)
    photo, original = load_photo(tmp_path / "after.bin"), load_photo(tmp_path / "original")
    assert photo.size == original.size
    assert (photo.exif.focal_35mm, photo.exif.when) == (original.exif.focal_35mm, original.exif.when)
    assert kind == "TIFF" or photo.exif.focal_35mm == 26  # Pillow writes a TIFF's outer table alone
    one, other = (
        np.rot90(photo.stored, -photo.quarter_turns),
        np.rot90(original.stored, -original.quarter_turns),
    )
    difference = np.abs(one.astype(int) - other.astype(int)).max()
    assert difference == 0 if kind in ("JPEG", "HEIF") else difference <= 12


def test_pictures_behind_the_photo_are_dropped(tmp_path: Path) -> None:
    """Phones store a video or a second picture behind the photo, with a place of its own."""
    kept = without_place(encoded("JPEG") + b"trailer 47.5 N" + encoded("JPEG"), *LIMITS)
    assert b"trailer" not in kept and kept.count(b"\xff\xd8\xff") == 1 and kept.endswith(b"\xff\xd9")


def test_a_sample_reads_the_same_pixels(tmp_path: Path) -> None:
    (tmp_path / "kept").write_bytes(without_place(FORK.read_bytes(), *LIMITS))
    kept, original = load_photo(tmp_path / "kept"), load_photo(FORK)
    assert np.array_equal(kept.stored, original.stored) and kept.quarter_turns == original.quarter_turns
    assert kept.exif == original.exif


def test_a_progressive_photo_is_taken_and_one_of_many_passes_is_not() -> None:
    buffer = io.BytesIO()
    picture().save(buffer, "JPEG", progressive=True)
    assert without_place(buffer.getvalue(), 40, 10**6)
    with pytest.raises(TooManyScans):
        without_place(buffer.getvalue(), 3, 10**6)


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG"])
def test_a_picture_that_is_too_large_is_not_decoded(kind: str) -> None:
    with pytest.raises(TooManyPixels):
        without_place(encoded(kind), 40, 320 * 240 - 1)

"""Small files that claim much: refused by what they claim, and what is read costs no more than it must.

The limits are the project's own (1 GB and 10 s a photo); the formats are described by ITU-T T.81 (JPEG), ISO/IEC 15948
(PNG) and TIFF 6.0.
"""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.photo import PhotoError, load_photo
from calibration.photo_limits import MAX_HALVED_PIXELS, MAX_JPEG_PIXELS, MAX_OTHER_PIXELS
from tests.calibration.test_photo import png_bytes

REFUSAL_S = 1.0
"""Processor time of a refusal at most: loading Pillow and the header take 0.1 s [measured]."""


def refused_soon(path: Path, match: str) -> None:
    began = time.process_time()
    with pytest.raises(PhotoError, match=match):
        load_photo(path)
    assert time.process_time() - began < REFUSAL_S


def rows_of(width: int, height: int, bytes_per_pixel: int) -> bytes:
    """Rows of an even PNG, without a filter."""
    return (b"\0" + b"\x80" * (width * bytes_per_pixel)) * height


@pytest.mark.parametrize(("colour", "bits"), [(6, 8), (6, 16), (2, 8), (0, 16)])
def test_a_small_png_of_250_megapixels(tmp_path: Path, colour: int, bits: int) -> None:
    """Such a file of 0.24 MB took 4.9 GB."""
    path = tmp_path / "large.png"
    path.write_bytes(png_bytes(15_800, 15_800, bits, colour, bytes(1000)))
    refused_soon(path, "15800 x 15800 px is more than the limit of 102 megapixels")


def test_a_jpeg_that_repeats_its_scans(tmp_path: Path) -> None:
    """Two thousand scans of 16 megapixels: 0.2 MB that took over a minute."""
    out = io.BytesIO()
    Image.new("RGB", (4000, 4000), (120, 120, 120)).save(out, "JPEG", progressive=True)
    content = out.getvalue()
    last = content[content.rindex(b"\xff\xda") : -2]
    path = tmp_path / "scans.jpg"
    path.write_bytes(content[:-2] + last * 2000 + content[-2:])
    refused_soon(path, "no camera writes a JPEG of 20.. scans")


def test_a_usual_progressive_jpeg_of_the_largest_size_has_no_too_many_scans(tmp_path: Path) -> None:
    path = tmp_path / "progressive.jpg"
    Image.new("RGB", (2000, 1500), (120, 90, 60)).save(path, progressive=True)
    assert path.read_bytes().count(b"\xff\xda") == 10
    assert load_photo(path).size == (2000, 1500)


def chained_tiff(pages: int) -> bytes:
    """Directories of 8 x 8 grey pixels that all share one strip (TIFF 6.0, section 2)."""
    out = bytearray(b"II*\0" + struct.pack("<I", 8 + 64) + b"\x80" * 64)
    entries = [(256, 3, 8), (257, 3, 8), (258, 3, 8), (259, 3, 1), (262, 3, 1), (273, 4, 8)]
    entries += [(277, 3, 1), (278, 3, 8), (279, 4, 64)]
    for page in range(pages):
        body = struct.pack("<H", len(entries)) + b"".join(
            struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in entries
        )
        following = len(out) + len(body) + 4 if page < pages - 1 else 0
        out += body + struct.pack("<I", following)
    return bytes(out)


def test_a_tiff_of_very_many_pages(tmp_path: Path) -> None:
    path = tmp_path / "pages.tif"
    path.write_bytes(chained_tiff(30_000))
    refused_soon(path, "several pictures")


def test_a_tiff_of_one_page_is_read(tmp_path: Path) -> None:
    path = tmp_path / "page.tif"
    path.write_bytes(chained_tiff(1))
    assert load_photo(path).stored.tolist() == [[[128] * 3] * 8] * 8


def test_a_sparse_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "sparse.jpg"
    with path.open("wb") as out:
        out.write(b"\xff\xd8\xff\xe0")
        out.truncate(1_500_000_000)
    refused_soon(path, "1.5 GB is too large for a photo")


def test_limits_hold_what_phones_make() -> None:
    assert MAX_OTHER_PIXELS >= 100e6
    assert MAX_JPEG_PIXELS >= 108e6
    assert MAX_HALVED_PIXELS >= 200e6


def test_a_jpeg_over_the_limit_is_decoded_at_half_its_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Against the means of 2 x 2 pixels, which is what libjpeg's scaled transform gives of smooth pictures."""
    monkeypatch.setattr("calibration.jpeg.MAX_JPEG_PIXELS", 300 * 200)
    monkeypatch.setattr("calibration.photo.MAX_JPEG_PIXELS", 300 * 200)
    y, x = np.mgrid[:203, :305]
    smooth = (np.stack([x * 0.8, y * 1.2, 255 - x * 0.8], axis=-1)).clip(0, 255).astype(np.uint8)
    path = tmp_path / "a.jpg"
    Image.fromarray(smooth).save(path, quality=98, subsampling=0)
    photo = load_photo(path)
    assert photo.size == (153, 102)
    means = smooth[:202, :304].reshape(101, 2, 152, 2, 3).mean((1, 3))
    np.testing.assert_allclose(photo.stored[:101, :152], means, atol=3)


def test_a_progressive_jpeg_over_the_limit_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its decoder holds all coefficients of the full size."""
    monkeypatch.setattr("calibration.jpeg.MAX_JPEG_PIXELS", 300 * 200)
    monkeypatch.setattr("calibration.photo.MAX_JPEG_PIXELS", 300 * 200)
    path = tmp_path / "a.jpg"
    Image.new("RGB", (305, 203)).save(path, progressive=True)
    refused_soon(path, "more than the limit")


_PEAK = """
import resource, sys
from pathlib import Path
from calibration.photo import load_photo
load_photo(Path(sys.argv[1]))
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
load_photo(Path(sys.argv[2]))
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="ru_maxrss has other units elsewhere")
def test_a_transparent_picture_takes_seven_bytes_a_pixel(tmp_path: Path) -> None:
    """Four of Pillow's and three of the array; it took twenty when each step of the conversion held the whole."""
    small, large = tmp_path / "small.png", tmp_path / "large.png"
    small.write_bytes(png_bytes(64, 64, 8, 6, rows_of(64, 64, 4)))
    side = 4000
    large.write_bytes(png_bytes(side, side, 8, 6, rows_of(side, side, 4)))
    done = subprocess.run(
        [sys.executable, "-c", _PEAK, str(small), str(large)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert int(done.stdout) / side**2 < 9.0


def parts_of_a_jpeg() -> tuple[bytes, bytes]:
    """Split a small JPEG behind its first marker."""
    out = io.BytesIO()
    Image.new("RGB", (64, 64), (120, 120, 120)).save(out, "JPEG")
    return out.getvalue()[:2], out.getvalue()[2:]


@pytest.mark.parametrize("part", [b"\xff\xe5\0\2", b"\xff\xfe\0\2", b"\xff", b"\xff\x00", b"\xff\xd0"])
def test_a_jpeg_of_millions_of_parts(tmp_path: Path, part: bytes) -> None:
    """Empty segments, comments and filling: 20 MB of them took 7 to 13 s of processor."""
    start, rest = parts_of_a_jpeg()
    path = tmp_path / "parts.jpg"
    path.write_bytes(start + part * (20_000_000 // len(part)) + rest)
    refused_soon(path, "thousands of parts")


def test_a_jpeg_with_the_largest_colour_profile_is_read(tmp_path: Path) -> None:
    """ICC.1:2022, annex B: 255 pieces; and extended XMP in 200 more."""
    start, rest = parts_of_a_jpeg()
    pieces = [b"ICC_PROFILE\0" + bytes([number, 255]) + b"z" * 60_000 for number in range(1, 256)]
    head = b"".join(b"\xff\xe2" + struct.pack(">H", len(one) + 2) + one for one in pieces)
    head += (b"\xff\xe1" + struct.pack(">H", 60_002) + b"x" * 60_000) * 200
    path = tmp_path / "profile.jpg"
    path.write_bytes(start + head + rest)
    assert load_photo(path).size == (64, 64)


def test_a_picture_that_is_a_line(tmp_path: Path) -> None:
    """64 x 1,000,000 pixels in a million strips had no width left when it was shrunk, a fault of the program."""
    for size in ((8, 8 * 201), (8 * 201, 8), (1, 3_000)):
        path = tmp_path / "line.png"
        Image.new("RGB", size).save(path)
        refused_soon(path, f"no photo is {size[0]} x {size[1]} px")
    Image.new("RGB", (1_000, 100)).save(tmp_path / "panorama.png")
    assert load_photo(tmp_path / "panorama.png").size == (1_000, 100)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
@pytest.mark.parametrize("allowed_kb", [400_000, 900_000])
def test_a_limit_on_the_address_space_is_said_before_a_library_ends_the_process(allowed_kb: int) -> None:
    """As bash's `ulimit -v` sets it: a segmentation fault at 400,000 and an exception of the networks at 900,000."""
    code = (
        "import resource, sys\n"
        f"resource.setrlimit(resource.RLIMIT_AS, ({1024 * allowed_kb},) * 2)\n"
        "from strandline.read.one_photo import read_one\n"
        "from strandline.read.parse import ReadOptions, parse_options\n"
        "outcome, _ = read_one(sys.argv[1], parse_options(ReadOptions(shaft='35 mm', layout='fork')))\n"
        "print(*outcome.messages)"
    )
    photo = Path(__file__).parents[1] / "vision" / "photos" / "plain.jpg"
    words = [sys.executable, "-c", code, str(photo)]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    assert f"this process is allowed {1024 * allowed_kb / 1e9:.1f}" in done.stdout
    assert "ulimit -v unlimited" in done.stdout

"""Photo files by the thousand that are broken on purpose, through `read` and through the garage's worker.

Small files of each kind, with bytes changed, cut out, put in and repeated, and with the lengths in their headers set to
extremes, as fuzzers do without looking at what runs (`make fuzz` looks).
"""

from __future__ import annotations

import random
import struct
from pathlib import Path

import pytest
from PIL import Image

from calibration.photo import load_photo
from strandline.garage.photos.worker_job import PhotoJob
from strandline.read.one_photo import read_one
from strandline.read.parse import ReadOptions, parse_options
from tests.helpers.broken_files import SEEDS, mutated


@pytest.mark.parametrize("count", [150, pytest.param(10_000, marks=pytest.mark.long)])
def test_read(tmp_path: Path, count: int) -> None:
    """An outcome with words for each; no fault of the program among them."""
    chance = random.Random(21)
    inputs = parse_options(ReadOptions(shaft="41.0 mm", layout="fork"))
    path = tmp_path / "hostile.jpg"
    refused = 0
    for _ in range(count):
        content = mutated(chance.choice(SEEDS).read_bytes(), chance)
        path.write_bytes(content)
        outcome, _ = read_one(str(path), inputs, {})
        assert outcome.messages and all(one.code != "program_fault" for one in outcome.messages), (
            content,
            outcome.messages,
        )
        refused += outcome.sha256 is None
    assert refused > count / 10  # most other files still open: their picture is damaged, and shows no card


@pytest.mark.parametrize("tag", [0xA404, 0xA002, 0xA405])
def test_numbers_without_bounds(tmp_path: Path, tag: int) -> None:
    """A field of EXIF written as a double of 1e300: a zoom's square is no number."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0xA405: 26, 0xA002: 48, 0xA003: 32, 0xA404: 1.0})
    block = exif.tobytes()
    at = block.index(struct.pack("<H", tag)) if b"II" in block[:8] else block.index(struct.pack(">H", tag))
    order = "<" if b"II" in block[:8] else ">"
    block = block[: at + 2] + struct.pack(f"{order}HII", 12, 1, len(block) - 6) + block[at + 12 :]
    path = tmp_path / "a.jpg"
    Image.new("RGB", (48, 32)).save(path, "JPEG", exif=block + struct.pack(f"{order}d", 1e300))
    read = load_photo(path).exif
    assert read.digital_zoom == (1e300 if tag == 0xA404 else 1.0) and read.width == (
        None if tag == 0xA002 else 48
    )
    outcome, _ = read_one(str(path), parse_options(ReadOptions(shaft="41.0 mm", layout="fork")), {})
    assert all(one.code != "program_fault" for one in outcome.messages), outcome.messages


@pytest.mark.parametrize("size", [(60, 12_000), (12_000, 60), (1, 200), (200, 1), (1, 1)])
def test_pictures_as_narrow_as_may_be(tmp_path: Path, size: tuple[int, int]) -> None:
    Image.new("RGB", size, (90, 120, 60)).save(tmp_path / "a.png")
    outcome, _ = read_one(
        str(tmp_path / "a.png"), parse_options(ReadOptions(shaft="41.0 mm", layout="fork")), {}
    )
    assert [one.code for one in outcome.messages] == ["no_card"]


@pytest.mark.parametrize("count", [40, pytest.param(500, marks=pytest.mark.long)])
def test_garage(tmp_path: Path, count: int) -> None:
    """A photo that was sent is read or refused in words, and never ends its worker."""
    chance = random.Random(22)
    inputs = parse_options(ReadOptions(shaft="41.0 mm", layout="fork"))
    raw, kept = tmp_path / "a.raw", tmp_path / "a.photo"
    job = PhotoJob(raw, kept, tmp_path / "a.jpg", tmp_path / "a.drawn.jpg", inputs, 50_000_000, 20)
    for _ in range(count):
        content = mutated(chance.choice(SEEDS).read_bytes(), chance)
        raw.write_bytes(content)
        answer = job.run()
        assert answer.problem or (answer.record is not None and answer.record.is_refused), content
        assert answer.record is None or all(one.code != "program_fault" for one in answer.record.reasons), (
            content
        )

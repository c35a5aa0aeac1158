"""Phones' largest photos are read, for less than 1 GB and 10 s of processor: the project's own limits."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.detect_markers import MOST_SEARCHED_PIXELS
from calibration.find_card import find_card

ROOT = Path(__file__).resolve().parents[2]
# Reads one photo as the command does; says what the process needed: kB at most (proc(5), VmHWM), s of processor.
READ = """
import re, sys, time
from pathlib import Path
from strandline.read.one_photo import read_one
from strandline.read.parse import ReadOptions, parse_options
outcome, photo = read_one(sys.argv[1], parse_options(ReadOptions(shaft="41 mm", layout="fork")), {})
high = re.search(r"VmHWM:\\s*(\\d+)", Path("/proc/self/status").read_text())[1]
print(high, time.process_time(), photo is not None, [one.code for one in outcome.messages])
"""


def picture(width: int, height: int, *, grain: bool) -> Image.Image:
    """Make patches of colour; grain makes the search for markers costly, and HEIC's encoder take minutes."""
    chance = np.random.default_rng(5)
    coarse = chance.integers(0, 255, (height // 100, width // 100, 3), np.uint8)
    image = Image.fromarray(coarse).resize((width, height), Image.Resampling.BILINEAR)
    if not grain:
        return image
    pixels = np.asarray(image).copy()
    noise = chance.integers(0, 24, (500, width, 3), np.uint8)
    for top in range(0, height, 500):
        pixels[top : top + 500] |= noise[: height - top]
    return Image.fromarray(pixels)


@pytest.mark.long
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is read from /proc")
@pytest.mark.parametrize(
    ("kind", "width", "height"),
    [("jpg", 11_650, 8_700), ("jpg", 16_320, 12_240), ("heic", 11_650, 8_700)],
)
def test_largest(tmp_path: Path, kind: str, width: int, height: int) -> None:
    """Of 101 megapixels, and a JPEG of 200, which is decoded at half its width and height."""
    path = tmp_path / f"large.{kind}"
    image = picture(width, height, grain=kind != "heic")
    if kind == "heic":
        import pillow_heif

        pillow_heif.from_pillow(image).save(path, quality=60, enc_params={"preset": "ultrafast"})
    else:
        image.save(path, quality=90)
    del image
    done = subprocess.run(
        [sys.executable, "-c", READ, str(path)], capture_output=True, text=True, cwd=ROOT, check=True
    )
    high_kb, processor_s, was_read, codes = done.stdout.split(maxsplit=3)
    assert was_read == "True" and "bad_file" not in codes, codes
    print(f"{kind} {width * height / 1e6:.0f} MP: {int(high_kb) / 1e6:.2f} GB, {float(processor_s):.1f} s")
    assert int(high_kb) * 1024 < 1e9 and float(processor_s) < 10


def test_a_card_that_is_small_in_a_large_photo_is_found_where_it_is() -> None:
    """The search of a photo of 96 megapixels at half its width and height changes no corner (here of a part of it)."""
    import cv2

    sample = cv2.imread(str(ROOT / "sample-images" / "upside-down-fork-orange-tie.jpg"), cv2.IMREAD_GRAYSCALE)
    assert sample is not None
    large = np.full((8_000, 12_000), 128, np.uint8)
    large[500 : 500 + sample.shape[0], 700 : 700 + sample.shape[1]] = sample
    assert large.size > MOST_SEARCHED_PIXELS > sample.size
    alone, found = find_card(sample), find_card(large)
    assert found.number == alone.number and len(found.corner_ids) == 26
    np.testing.assert_allclose(found.corners_px - (700, 500), alone.corners_px, atol=0.1)

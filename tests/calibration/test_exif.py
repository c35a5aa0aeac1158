"""EXIF facts against exiftool (Debian package libimage-exiftool-perl), a second reader."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from calibration.exif import ExifFacts
from calibration.photo import load_photo

SAMPLES = Path(__file__).parents[2] / "sample-images"


@pytest.fixture(scope="module")
def exiftool() -> str:
    found = shutil.which("exiftool")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("exiftool is needed in CI: install libimage-exiftool-perl")
        pytest.skip("exiftool is not installed (Debian package libimage-exiftool-perl)")
    return found


def facts_by_exiftool(exiftool: str, path: Path) -> ExifFacts:
    output = subprocess.run([exiftool, "-j", "-n", "-EXIF:all", str(path)], check=True, capture_output=True)
    tags = json.loads(output.stdout)[0]
    when = tags.get("DateTimeOriginal")

    def near(tag: str) -> Any:
        return pytest.approx(tags[tag]) if tag in tags else None

    return ExifFacts(
        focal_35mm=tags.get("FocalLengthIn35mmFormat"),
        width=tags.get("ExifImageWidth"),
        height=tags.get("ExifImageHeight"),
        orientation=tags.get("Orientation", 1),
        digital_zoom=near("DigitalZoomRatio"),
        when=datetime.strptime(when, "%Y:%m:%d %H:%M:%S") if when else None,
    )


FULL = {0xA405: 26, 0x920A: 5.96, 0xA002: 4032, 0xA003: 3024, 0xA404: 1.25, 0x9003: "2026:05:01 10:11:12"}


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "webp"])
@pytest.mark.parametrize(
    ("base", "inner"),
    [
        ({0x0112: 6, 0x0131: "Invented 1.2"}, FULL),
        ({0x0112: 8}, {0xA405: 27}),
        ({}, {0x920A: 4.2}),
        ({0x0131: "x"}, {}),
    ],
)
def test_facts_are_those_exiftool_reads(
    tmp_path: Path, exiftool: str, suffix: str, base: dict[int, object], inner: dict[int, object]
) -> None:
    exif = Image.Exif()
    exif.update(base)
    exif.get_ifd(0x8769).update(inner)
    path = tmp_path / f"a.{suffix}"
    Image.new("RGB", (40, 30)).save(path, exif=exif)
    assert load_photo(path).exif == facts_by_exiftool(exiftool, path)


def test_sample_photos(exiftool: str) -> None:
    samples = sorted(SAMPLES.glob("*.jpg"))
    if not samples:
        pytest.skip("no sample photos here")
    for path in samples:
        facts = load_photo(path).exif
        assert facts == facts_by_exiftool(exiftool, path)
        assert facts.focal_35mm


def test_nothing_said() -> None:
    assert ExifFacts() == ExifFacts(None, None, None, 1, None, None)


@pytest.mark.parametrize("orientation", [0, 9, 255])
def test_nonsense_is_taken_for_silence(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x0132] = "0000:00:00 00:00:00"
    exif.get_ifd(0x8769).update({0xA405: 0, 0xA404: 0.0, 0xA002: 0})
    path = tmp_path / "a.jpg"
    Image.new("RGB", (40, 30)).save(path, exif=exif)
    assert load_photo(path).exif == ExifFacts()

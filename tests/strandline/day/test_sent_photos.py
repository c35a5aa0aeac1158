"""What is sent of a photo to other machines: the picture as it is, and neither place nor device.

Places are read back by exiftool's independent decoder where it is installed, and by Pillow.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from calibration.photo import load_photo
from strandline.day.pipeline import run_day
from strandline.day.reading.jobs import Answer, Job
from strandline.shared.without_place import fit_to_send
from strandline.shared.worker import Lost
from tests.helpers.made_day import MadeDay

MAKE, MODEL, GPS = 0x010F, 0x0110, 0x8825


def with_place(kind: str) -> bytes:
    """Make a picture with the invented place 48.5 N, 9.1 E and an invented device."""
    y, x = np.mgrid[:120, :160]
    pixels = np.stack([x, y, 255 - x], axis=-1).astype(np.uint8)
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = "Nobody", "Invented 1"
    exif.get_ifd(GPS).update({1: "N", 2: (48.0, 30.0, 0.0), 3: "E", 4: (9.0, 6.0, 0.0)})
    buffer = io.BytesIO()
    image = Image.fromarray(pixels)
    if kind == "HEIF":
        pillow_heif.register_heif_opener()
    options: dict[str, Any] = {"lossless": True} if kind == "WEBP" else {}
    image.save(buffer, kind, exif=exif, **options)
    return buffer.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG", "TIFF", "WEBP"])
def test_neither_place_nor_device_is_sent(kind: str, tmp_path: Path) -> None:
    before = with_place(kind)
    sent = fit_to_send(before)
    assert b"Invented 1" in before and b"Invented 1" not in sent and b"Nobody" not in sent
    with Image.open(io.BytesIO(before)) as image:
        assert image.getexif().get_ifd(GPS) or kind == "TIFF"  # which Pillow writes without the place
    with Image.open(io.BytesIO(sent)) as image:
        assert not image.getexif().get_ifd(GPS)
    if shutil.which("exiftool"):
        path = tmp_path / "sent"
        path.write_bytes(sent)
        told = subprocess.run(
            ["exiftool", "-G", str(path)], capture_output=True, text=True, check=True
        ).stdout
        assert "GPS" not in told and "Invented" not in told


@pytest.mark.parametrize(("kind", "most"), [("JPEG", 0), ("HEIF", 0), ("PNG", 6), ("TIFF", 6), ("WEBP", 6)])
def test_the_picture_stays_as_it_was(kind: str, most: int, tmp_path: Path) -> None:
    """To the last bit where the file is copied; within a JPEG's rounding where it is written anew."""
    before, after = tmp_path / "before", tmp_path / "after"
    before.write_bytes(with_place(kind))
    after.write_bytes(fit_to_send(before.read_bytes()))
    one, other = load_photo(before).stored.astype(int), load_photo(after).stored.astype(int)
    assert abs(one - other).max() <= most


def test_a_picture_that_cannot_be_opened_is_not_sent() -> None:
    broken = with_place("PNG")[:60] + b"Invented 1" * 100
    assert fit_to_send(broken) == broken[:16]


def test_what_is_no_picture_is_sent_as_it_is() -> None:
    assert fit_to_send(b'{"made": "up"}') == b'{"made": "up"}'


class Keeping:
    """An engine that keeps what would be sent, and reads nothing."""

    sent: ClassVar[list[bytes | None]] = []

    def work(self, jobs: Iterable[Job], limit_s: float) -> Iterator[tuple[Job, Answer | Lost]]:
        """Take all jobs."""
        for job in jobs:
            self.sent.append(job.content)
            yield job, Lost("memory", "It was not read.")

    def close(self) -> None:
        """Nothing to close."""


def test_a_day_sends_pictures_without_their_place(tmp_path: Path) -> None:
    day = MadeDay(tmp_path / "day")
    (day.folder / "fl.jpg").write_bytes(with_place("JPEG"))
    run_day(replace(day.request, send=True, own_engine=Keeping))
    (content,) = Keeping.sent
    assert content and content.startswith(b"\xff\xd8") and b"Invented 1" not in content


@pytest.mark.parametrize("content", [b"", b"no picture", b"\x89PNG", b"\xff\xd8\xff", b"\0\0\0\x18ftypheic"])
def test_what_is_no_picture_ends_nothing(content: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(Image.OPEN, "HEIF", raising=False)  # as in a process that has met no HEIC yet
    assert fit_to_send(content) == content[:16]

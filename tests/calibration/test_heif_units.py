"""HEICs that lost sectors without a word of their decoder: what no unit of HEVC holds (ITU-T H.265, 7.4.1.1)."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.heif_units import has_broken_units
from calibration.photo import PhotoError, load_photo

SECTOR = 512


@cache
def heic(quality: int = 90) -> bytes:
    """Encode grain and flat parts (x265), some tens of sectors long."""
    import pillow_heif

    rng = np.random.default_rng(18)
    pixels = rng.integers(0, 256, (256, 320, 3), np.uint8)
    pixels[:, :100] = 0
    out = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(pixels)).save(out, quality=quality)
    return out.getvalue()


def coded(content: bytes) -> tuple[int, int]:
    """Where the coded picture lies: the last box of the file is its data (`mdat`)."""
    begins = content.index(b"mdat") + 4
    assert begins - 8 + int.from_bytes(content[begins - 8 : begins - 4], "big") == len(content)
    return begins, len(content)


@pytest.mark.parametrize("quality", [10, 50, 90, 100])
def test_sound_files_are_whole(quality: int) -> None:
    assert not has_broken_units(heic(quality))


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.9, 0.99])
def test_a_lost_sector_is_seen(tmp_path: Path, share: float) -> None:
    begins, ends = coded(heic())
    at = begins + int(share * (ends - begins - SECTOR))
    content = heic()[:at] + bytes(SECTOR) + heic()[at + SECTOR :]
    path = tmp_path / "a.heic"
    path.write_bytes(content)
    with pytest.raises(PhotoError, match="damaged"):
        load_photo(path)


@pytest.mark.parametrize(
    "planted",
    [b"\0\0\0", b"\0\0\1", b"\0\0\2", b"\0\0\3\4"],
    ids=["zeros", "beginning of a unit", "reserved", "a 3 before nothing to keep apart"],
)
def test_bytes_that_no_unit_holds(planted: bytes) -> None:
    begins, ends = coded(heic())
    at = (begins + ends) // 2
    assert has_broken_units(heic()[:at] + planted + heic()[at + len(planted) :])


def test_a_3_that_was_put_in_is_sound() -> None:
    begins, ends = coded(heic())
    at = (begins + ends) // 2
    for planted in (b"\7\0\0\3\0\7", b"\7\0\0\3\3\7"):
        assert not has_broken_units(heic()[:at] + planted + heic()[at + len(planted) :])


def test_units_that_do_not_reach_the_end() -> None:
    begins, _ = coded(heic())
    for change in (-1, 1):
        length = int.from_bytes(heic()[begins : begins + 4], "big") + change
        assert has_broken_units(heic()[:begins] + length.to_bytes(4, "big") + heic()[begins + 4 :])


def test_other_structures_are_left_to_the_decoder() -> None:
    whole = heic()
    assert not has_broken_units(b"") and not has_broken_units(whole[:200])
    for kind in (b"meta", b"iloc", b"iinf", b"iprp", b"ipco", b"hvcC"):
        assert not has_broken_units(whole.replace(kind, b"free")), kind
    rng = np.random.default_rng(1)
    head = whole.index(b"mdat")
    for _ in range(300):  # whatever the boxes say, it ends and raises nothing
        changed = bytearray(whole)
        for at in rng.integers(0, head, 4):
            changed[at] = int(rng.integers(256))
        has_broken_units(bytes(changed))

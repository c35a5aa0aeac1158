"""HEIC files whose items have no names: their decoder's binding would end the process (found by fuzzing, 2026)."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from calibration.heif import has_strange_items
from calibration.photo import PhotoError, load_photo
from strandline.shared.without_place import without_place

ROOT = Path(__file__).resolve().parents[2]
GOOD = (ROOT / "tests" / "fuzz" / "seeds" / "photo" / "a.heic").read_bytes()
ENTRY = GOOD.index(b"infe")


def with_type(kind: bytes) -> bytes:
    """Give the first item another type (ISO/IEC 14496-12, 8.11.6: version 2)."""
    assert GOOD[ENTRY + 4] == 2
    return GOOD[: ENTRY + 12] + kind + GOOD[ENTRY + 16 :]


@pytest.mark.parametrize("kind", [b"\xffxif", b"Ex\x9a\x99", b"\xbe\x87\x96\x99", b"\xed\xa0\x80a"])
def test_an_item_without_a_name_is_refused(tmp_path: Path, kind: bytes) -> None:
    path = tmp_path / "a.heic"
    path.write_bytes(with_type(kind))
    with pytest.raises(PhotoError, match="without a name"):
        load_photo(path)
    with pytest.raises(ValueError, match="without a name"):
        without_place(path.read_bytes(), 40, 1_000_000)


def test_entries_of_every_form_are_looked_at() -> None:
    assert not has_strange_items(GOOD)
    for size in (b"\0\0\0\0", b"\0\0\0\1", b"\x7f\xff\xff\xff"):
        assert has_strange_items(GOOD[: ENTRY - 4] + size + GOOD[ENTRY:]), size
    for version in (0, 1, 3, 4, 255):
        entry = b"infe" + bytes([version]) + bytes(11) + b"\xff\xff\0"
        assert has_strange_items(b"ftyp" + (len(entry) + 4).to_bytes(4, "big") + entry), version
    assert not has_strange_items(b"infe") and not has_strange_items(b"\0\0\0\x15infe")


def test_the_decoder_still_ends_the_process() -> None:
    """Where this fails, pi-heif has been repaired, and `has_strange_items` may go."""
    code = "import sys, io, pi_heif; pi_heif.open_heif(io.BytesIO(sys.stdin.buffer.read()))"
    broken = (ROOT / "tests" / "fuzz" / "seeds" / "stripped" / "item-without-a-name").read_bytes()
    done = subprocess.run([sys.executable, "-c", code], input=broken, capture_output=True, check=False)
    assert done.returncode not in (0, 1)

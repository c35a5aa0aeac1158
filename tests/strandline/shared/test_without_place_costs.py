"""JPEGs that are made to keep the removal of the place busy: refused before their millions of parts are walked."""

from __future__ import annotations

import io
import time

import pytest
from PIL import Image

from strandline.shared.without_place import TooManyParts, without_place

REFUSAL_S = 1.0


def in_two(*, within: bool) -> tuple[bytes, bytes]:
    """Split a progressive JPEG before its second scan, or behind that scan's head."""
    out = io.BytesIO()
    Image.new("RGB", (64, 64), (120, 120, 120)).save(out, "JPEG", progressive=True)
    content = out.getvalue()
    at = content.index(b"\xff\xda", content.index(b"\xff\xda") + 2)
    if within:
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return content[:at], content[at:]


@pytest.mark.parametrize(
    "part", [b"\xff\xfe\0\2", b"\xff\xc4\0\2", b"\xff\xc4\0\2\0", b"\xff\xc4\0\2\xff\xff\xff\0"]
)
def test_between_scans(part: bytes) -> None:
    """Twenty megabytes of empty segments and of bytes that belong to nothing."""
    first, rest = in_two(within=False)
    began = time.process_time()
    with pytest.raises(TooManyParts):
        without_place(first + part * (20_000_000 // len(part)) + rest, 40, 1_000_000)
    assert time.process_time() - began < REFUSAL_S


@pytest.mark.parametrize("filling", [b"\xff", b"\xff\x00", b"\xff\xd0", b"\x00"])
def test_within_a_scan(filling: bytes) -> None:
    """Stuffed bytes, restarts and filling are the scan's; a noisy photo is full of them."""
    first, rest = in_two(within=True)
    began = time.process_time()
    kept = without_place(first + filling * (20_000_000 // len(filling)) + rest, 40, 1_000_000)
    assert time.process_time() - began < REFUSAL_S and len(kept) > 19_000_000

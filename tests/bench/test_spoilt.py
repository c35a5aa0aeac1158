"""Spoilt copies: what each fault does to a file is checked with Pillow and OpenCV, the counts by hand."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from bench.score import PHOTOS, load_truths
from bench.scoring import Truth
from bench.spoilage import FAULTS, Original, original, picture_changed
from bench.spoilt import Copy, kept, main, read_copies, report, spoilt_copies

FOCAL_TAG, INNER = 0xA405, 0x8769


@pytest.fixture(scope="module")
def base() -> Original:
    path = sorted(PHOTOS.glob("*.jpg"))[0]
    found = original(path.read_bytes(), 1)
    # A third of the size: what a fault does shows as well.
    small = cv2.resize(found.pixels, None, fx=0.33, fy=0.33, interpolation=cv2.INTER_AREA)
    out = io.BytesIO()
    Image.fromarray(small).save(out, "JPEG", quality=95, exif=found.exif)
    return original(out.getvalue(), 1)


def spoil(base: Original, name: str, seed: int = 1) -> bytes:
    fault = next(one for one in FAULTS if one.name == name)
    return fault.spoil(base, np.random.default_rng(seed))


def test_the_same_seed_spoils_alike_and_another_one_not(base: Original) -> None:
    for fault in FAULTS:
        first, again, other = (fault.spoil(base, np.random.default_rng(seed)) for seed in (3, 3, 4))
        assert first == again, fault.name
        if fault.name != "mirrored":
            assert first != other, fault.name


def test_a_fault_of_the_picture_leaves_a_whole_jpeg(base: Original) -> None:
    for fault in FAULTS:
        if not fault.damage:
            with Image.open(io.BytesIO(fault.spoil(base, np.random.default_rng(2)))) as image:
                image.load()
                assert image.format == "JPEG"


def test_a_cut_file_is_cut_and_a_flipped_one_as_long(base: Original) -> None:
    cut = spoil(base, "truncated")
    assert base.content.startswith(cut) and len(cut) < len(base.content)
    flipped = spoil(base, "bits flipped")
    assert len(flipped) == len(base.content) and flipped != base.content
    lost = np.frombuffer(spoil(base, "bytes lost"), np.uint8)
    assert (lost != np.frombuffer(base.content, np.uint8)).sum() > 400


def test_exif_goes_or_claims_another_lens(base: Original) -> None:
    with Image.open(io.BytesIO(base.content)) as image:
        true_mm = image.getexif().get_ifd(INNER)[FOCAL_TAG]
    with Image.open(io.BytesIO(spoil(base, "false focal length"))) as image:
        ratio = image.getexif().get_ifd(INNER)[FOCAL_TAG] / true_mm
        assert 0.5 < ratio < 0.95 or 1.05 < ratio < 1.9
    for name in ("no EXIF", "sent by messenger"):
        with Image.open(io.BytesIO(spoil(base, name))) as image:
            assert not image.getexif()


def test_a_changed_picture_is_told_from_a_whole_one(base: Original) -> None:
    assert not picture_changed(base, base.content)
    assert picture_changed(base, spoil(base, "truncated"))
    assert picture_changed(base, b"nothing that opens")


def test_a_shorter_run_is_the_beginning_of_a_longer_one() -> None:
    truths = [Truth(Path(f"{number}.jpg"), {}) for number in range(5)]
    long, short = list(spoilt_copies(truths, 60, 7)), list(spoilt_copies(truths, 20, 7))
    assert long[:20] == short
    assert {fault.name for _, _, fault in long} == {fault.name for fault in FAULTS}
    # Each round holds every photo once.
    assert {truth.photo for _, truth, _ in long[5:10]} == {truth.photo for truth in truths}


def copy(**fields: object) -> Copy:
    usual = Copy(0, "a.jpg", "noise", "read", None, False, (), 3, 3)
    return Copy(**{**usual.__dict__, **fields})


def test_the_limits() -> None:
    assert kept([copy()] * 1000)
    assert kept([copy()] * 998 + [copy(wrong=("exposed_mm",))] * 2)
    assert not kept([copy()] * 997 + [copy(wrong=("exposed_mm",))] * 3)
    assert not kept([copy()] * 999 + [copy(damaged=True)])
    assert kept([copy()] * 999 + [copy(damaged=True, status="refused")])
    assert not kept([copy()] * 999 + [copy(status="status failed: fault")])
    lines = list(report([copy(), copy(wrong=("exposed_mm +2.00 mm, u95 1.00",)), copy(damaged=True)]))
    assert "wrong 1 copies, 333.3 of 1,000; damaged 1, of these read 1; failures 0" in lines[-3]
    assert "exposed_mm +2.00 mm" in lines[-2] and "damaged and read" in lines[-1]


def test_a_cut_photo_is_refused() -> None:
    # Copy 0 has the first fault.
    (first,) = read_copies(load_truths(PHOTOS)[:1], 1, 18)
    assert (first.fault, first.status, first.damaged, first.answered) == ("truncated", "refused", True, 0)


@pytest.mark.long
def test_spoilt_copies_of_our_own_photos(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main([str(PHOTOS), "--count", "210", "--out", str(tmp_path / "copies.jsonl")])
    summary = next(line for line in capsys.readouterr().out.splitlines() if "of 1,000" in line)
    wrong = int(summary.split("wrong ")[1].split(" ")[0])
    # 2 of 1,000 are wanted; 24 of 1,000 were measured (docs/accuracy.md), which is 5 of 210.
    assert wrong <= 5, summary
    assert summary.endswith("failures 0")

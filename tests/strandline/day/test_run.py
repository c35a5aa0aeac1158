"""Runs that are resumed, changed, poisoned, full, forbidden and oddly named; the vision is replaced."""

from __future__ import annotations

import csv
import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from strandline.day.errors import DayError
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.store_file import FILE
from strandline.shared.worker import Limits, Lost
from tests.helpers.made_day import Inline, MadeDay, codes, legs
from tests.helpers.stub_reader import LOG, Scene


@pytest.fixture
def day(tmp_path: Path) -> MadeDay:
    return MadeDay(tmp_path / "day")


@pytest.fixture
def pooled(tmp_path: Path) -> MadeDay:
    """Make a day that is read in worker processes."""
    return MadeDay(tmp_path / "pooled", pool=True)


@pytest.fixture
def reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a file that gets a line for each photo that is read."""
    log = tmp_path / "reads"
    log.touch()
    monkeypatch.setenv(LOG, str(log))
    return log


def names(log: Path) -> Counter[str]:
    found = Counter(line.strip("'") for line in log.read_text().splitlines())
    log.write_text("")
    return found


def test_reads_only_what_is_new_or_changed(day: MadeDay, reads: Path) -> None:
    day.put("a fl.jpg")
    day.put("b fr.jpg")
    day.put("c fl.jpg", card=4)
    first = day.run()
    assert names(reads) == {"a fl.jpg": 1, "b fr.jpg": 1, "c fl.jpg": 1}
    assert day.run() == first and not names(reads)
    day.put("a fl.jpg", marker=70.0)
    assert legs(day.run())["Anna", "front-left", ""] == 105.0
    assert names(reads) == {"a fl.jpg": 1}
    (day.folder / "b fr.jpg").rename(day.folder / "renamed fr.jpg")
    day.run()
    assert not names(reads)


def test_same_size_and_time_but_another_content_is_read_again(day: MadeDay, reads: Path) -> None:
    path = day.put("a fl.jpg", marker=60.0)
    day.run()
    before = path.stat()
    day.put("a fl.jpg", marker=70.0)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size and path.stat().st_mtime_ns == before.st_mtime_ns
    assert legs(day.run())["Anna", "front-left", ""] == 105.0


def test_a_changed_roster_or_bike_is_read_again_where_it_bears_on_a_photo(day: MadeDay, reads: Path) -> None:
    day.put("a fl.jpg")
    day.put("b fl.jpg", card=4)
    day.run()
    names(reads)
    bike = day.folder / "bikes" / "twin.toml"
    bike.write_text(bike.read_text(encoding="utf-8").replace("205 mm", "206 mm"), encoding="utf-8")
    assert legs(day.run())["Anna", "front-left", ""] == 96.0
    assert names(reads) == {"a fl.jpg": 1}
    roster = day.folder / "roster.csv"
    roster.write_text(roster.read_text(encoding="utf-8").replace("Anna", "Ann"), encoding="utf-8")
    assert legs(day.run())["Ann", "front-left", ""] == 96.0
    assert not names(reads)


def test_another_program_never_uses_what_this_one_read(day: MadeDay, reads: Path) -> None:
    day.put("a fl.jpg")
    day.run()
    day.run(program="another")
    assert names(reads) == {"a fl.jpg": 2}
    day.run()
    assert not names(reads)


# A record as version 0.1.0 kept it (commit 96b4911), shortened.
OLD_RECORD = """{"assumed": [], "camera": {"R_cam_card": [[1, 0, 0], [0, 1, 0], [0, 0, 1]], "focal_px": 2000.0},
"card": 3, "cautions": [], "covariance_mm2": null, "exposed_mm": {"u95": 0.4, "value": 170.0}, "reasons": [],
"marker_at_stop": false, "state": "on-wheels", "status": "read", "stroke": null}"""


def test_a_file_of_the_version_before_opens_and_is_read_again(day: MadeDay, reads: Path) -> None:
    day.put("a fl.jpg")
    first = day.run()
    with sqlite3.connect(day.out / FILE) as file:
        file.execute("UPDATE reading SET record = ?, program = '0.1.0+0123456789abcdef'", (OLD_RECORD,))
        file.execute("UPDATE sighting SET program = '0.1.0+0123456789abcdef'")
    file.close()
    names(reads)
    assert day.run() == first
    assert names(reads) == {"a fl.jpg": 1}


def test_a_poisoned_photo_stops_neither_the_others_nor_the_next_run(pooled: MadeDay, reads: Path) -> None:
    for number in range(12):
        pooled.put(f"{number:02d} fl.jpg", card=4, salt=number)
    for do in ("hang", "die", "memory", "greedy"):
        pooled.put(f"0 {do}.jpg", do=do)
    (pooled.folder / "0 broken.jpg").write_bytes(b"\xff\xd8")
    limits = Limits(4.0, 900)
    results = pooled.run(limits=limits)
    assert codes(results) == {
        "0 hang.jpg": "lost_time",
        "0 die.jpg": "lost_died",
        "0 memory.jpg": "lost_memory",
        "0 greedy.jpg": "lost_memory",
        "0 broken.jpg": "unreadable",
    }
    assert results.read == 12
    names(reads)
    assert pooled.run(limits=limits) == results and not names(reads)


def test_what_a_limit_stopped_is_tried_again_when_asked(day: MadeDay) -> None:
    path = day.put("a fl.jpg")
    roster = day.request.read_roster()
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    day.out.mkdir()
    with ResultsStore(day.out, "stub") as store:
        store.keep_lost(sha256, roster.sha256, Lost("time", "It took too long."))
    assert codes(day.run()) == {"a fl.jpg": "lost_time"}
    assert day.run(retry=True).read == 1


def test_two_runs_do_not_meet(day: MadeDay) -> None:
    day.put("a fl.jpg")
    day.run()
    with ResultsStore(day.out, "stub"), pytest.raises(DayError, match="Another run"):
        day.run()
    day.run()


ODD = (
    "with space fl.jpg",
    "quote\"s and 'apostrophes' fl.jpg",
    "new\nline fl.jpg",
    "tab\tfl.jpg",
    "=1+1 fl.jpg",
    "<script>alert(1)<᚜script> fl.jpg",
    "Žluťoučký fl.JPG",
    "Жанна fl.jpeg",
    "金曜日 fl.jpg",
    "عمر fl.jpg",
    "हिन्दी fl.jpg",
    "🏍 fl.jpg",
    "a&b;%20 fl.jpg",
    "-rf fl.jpg",
    "\u202egpj.fl.jpg",
)


def test_names_of_every_kind(day: MadeDay) -> None:
    for number, name in enumerate(ODD):
        day.put(name, salt=number, exposed=None)
    if sys.platform == "linux":
        bad = os.fsdecode(b"not utf-8 \xff fl.jpg")
        day.put(bad, salt=99, exposed=None)
    results = day.run()
    assert results.photos == len(results.exceptions)
    with (day.out / "exceptions.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    files = {row["file"] for row in rows}
    assert {name for name in ODD if name[0] not in "=-"} <= files
    assert "'=1+1 fl.jpg" in files and "'-rf fl.jpg" in files  # a spreadsheet runs no name
    assert set(ODD) <= {one["file"] for one in day.lines("exception")}
    page = (day.out / "day.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page and "&lt;script&gt;alert" in page
    assert "new\\nline fl.jpg" in page and "\u202e" not in page


def test_other_files_hidden_files_and_results_are_left_alone(day: MadeDay) -> None:
    day.put("a fl.jpg")
    day.put(".hidden/b fl.jpg", salt=1)
    day.put("results/c fl.jpg", salt=2)
    (day.folder / "notes.txt").write_text("x")
    assert day.run().photos == 1


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="POSIX permissions")
def test_a_folder_that_may_not_be_written(day: MadeDay, tmp_path: Path) -> None:
    """As another user where this one is root, who may write everywhere."""
    day.put("a fl.jpg")
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(DayError, match="cannot be written"):
        day.run(out=blocked / "results")
    if os.geteuid() != 0:
        day.folder.chmod(0o555)
        try:
            with pytest.raises(DayError, match="--out"):
                day.run()
        finally:
            day.folder.chmod(0o755)
    assert day.run(out=tmp_path / "elsewhere").read == 1
    assert not (day.folder / "results").exists()


@pytest.mark.skipif(
    sys.platform != "linux" or os.geteuid() != 0, reason="mounts the folder read-only, as root on Linux"
)
def test_a_read_only_folder_is_read_into_another(day: MadeDay, tmp_path: Path) -> None:
    """A memory card with its switch on lock: even root may not write there."""
    day.put("a fl.jpg")
    there = str(day.folder)
    if subprocess.run(["mount", "--bind", there, there], capture_output=True).returncode:
        pytest.skip("nothing can be mounted here")
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", there], check=True)
        with pytest.raises(OSError, match="Read-only"):
            (day.folder / "x").touch()
        with pytest.raises(DayError, match="--out"):
            day.run()
        assert day.run(out=tmp_path / "elsewhere").read == 1
        assert not (day.folder / "results").exists()
    finally:
        subprocess.run(["umount", there], check=True)


@pytest.mark.skipif(
    sys.platform != "linux" or os.geteuid() != 0, reason="mounts a small disk, as root on Linux"
)
def test_a_full_disk_loses_nothing_that_was_read(day: MadeDay, tmp_path: Path, reads: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", str(disk)], capture_output=True
    )
    if done.returncode:
        pytest.skip("no disk can be mounted here")
    try:
        for number in range(60):
            day.put(f"{number:02d} fl.jpg", card=4, salt=number, marker=60 + number / 1000)
        with pytest.raises(DayError, match=r"room|space"):
            day.run(out=disk)
        kept = sum(names(reads).values())
        subprocess.run(["mount", "-o", "remount,size=20m", str(disk)], check=True)
        results = day.run(out=disk)
        assert results.read == 60 and not results.exceptions
        again = sum(names(reads).values())
        # Some photos were under way, or had just been read, when the disk was full.
        assert 0 < again < 60 and kept + again <= 60 + 6
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_results_are_the_same_from_any_copy_in_any_order(pooled: MadeDay, tmp_path: Path) -> None:
    for number in range(10):
        pooled.put(
            f"{number} {'fl' if number % 2 else 'fr'} before.jpg",
            Scene(marker=60 + number / 100, salt=number),
        )
    pooled.run()
    files = {
        path.name: path.read_bytes()
        for path in pooled.out.iterdir()
        if path.suffix in (".csv", ".html", ".jsonl")
    }
    other = tmp_path / "elsewhere" / "pooled"
    shutil.copytree(pooled.folder, other, ignore=shutil.ignore_patterns("results"))
    pooled.run(folder=other, own_engine=Inline)
    for name, content in files.items():
        assert (other / "results" / name).read_bytes() == content, name

"""Files that a folder lists and that do not come: on a network, in a cloud, or without end.

By hand against a file system of /dev/fuse whose reads never return (docs/trust.md); here the read itself waits.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from strandline.day.reading import photo_files
from strandline.day.reading.photo_files import content_hash
from tests.helpers.made_day import MadeDay, codes


@pytest.fixture
def hanging(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let each read of a file called hang.jpg wait until the test is over."""
    over, usual = threading.Event(), photo_files._pieces

    def pieces(path: Path) -> Iterator[bytes]:
        if path.name == "hang.jpg":
            over.wait(60)
        return usual(path)

    monkeypatch.setattr(photo_files, "_pieces", pieces)
    monkeypatch.setattr(photo_files, "HASH_S", 0.5)
    yield
    over.set()


@pytest.mark.usefixtures("hanging")
def test_a_file_that_does_not_come_costs_itself_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The day reads the rest; a day that is watched waits for that file once, not at each pass."""
    day = MadeDay(tmp_path / "day")
    day.put("fl.jpg")
    hang = day.put("hang.jpg")
    found = codes(day.run())
    assert found["hang.jpg"] == "unreadable" and found.get("fl.jpg") != "unreadable"
    monkeypatch.setattr(photo_files, "HASH_S", 30.0)
    began = time.monotonic()
    assert content_hash(hang) is None
    assert time.monotonic() - began < 10


@pytest.mark.skipif(not Path("/proc/version").exists(), reason="Linux has it")
def test_a_file_that_gives_more_than_it_has_is_not_read_on() -> None:
    """Files of the system say that they hold 0 bytes (proc(5)); one that grows as it is read may never end."""
    assert Path("/proc/version").stat().st_size == 0 < len(Path("/proc/version").read_bytes())
    assert content_hash(Path("/proc/version")) is None

"""A killed process loses nothing that was acknowledged, and two processes may write at once, on real files."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ridelog.errors import FileError
from ridelog.storage.check import check
from ridelog.storage.connection import transaction
from ridelog.storage.store import Logbook
from tests.helpers.made_records import put_bike, put_ride

ROOT = Path(__file__).parents[2]


def start(path: Path, who: str, *count: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-m", "tests.helpers.writer", str(path), who, *count],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    )


def whole(lines: str) -> list[tuple[int, str]]:
    """Acknowledged rides; a last line that was cut off by the kill does not count."""
    done = lines[: lines.rfind("\n") + 1].splitlines()
    return [(int(line.split()[1]), line.split()[2]) for line in done]


def test_a_killed_writer_loses_nothing_that_it_acknowledged(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    moments = random.Random(4)
    acknowledged: list[tuple[int, str]] = []
    with Logbook.open(path) as book:
        put_bike(book)
    for turn in range(8):
        with start(path, f"w{turn}") as writer:
            assert writer.stdout is not None and writer.stderr is not None
            first = writer.stdout.readline()
            time.sleep(moments.uniform(0.0, 0.25))
            writer.kill()
            # Not communicate(): it would lose the acknowledged lines that readline() has already buffered.
            rest, errors = writer.stdout.read(), writer.stderr.read()
        assert writer.returncode in (-9, 1), errors  # as each system says that it was killed
        acknowledged += whole(first + rest)
        with Logbook.open(path) as book:
            assert check(book).findings == ()
            kept = {(ride.number, ride.entry.route) for ride in book.rides.all_rides()}
            assert kept >= set(acknowledged)
            # At most one ride that was committed and not yet acknowledged when the signal came.
            assert len(kept) <= len(acknowledged) + turn + 1
            assert all(len(ride.readings) == len(ride.settings) == 1 for ride in book.rides.all_rides())
    assert len(acknowledged) > 20


def test_two_writers_at_once_both_get_all_their_rides_in(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    writers = [start(path, who, "40") for who in ("a", "b")]
    for writer in writers:
        assert writer.stdout is not None and writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    done = [writer.communicate(timeout=300) for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0], done
    acknowledged = [ride for out, _ in done for ride in whole(out)]
    with Logbook.open(path) as book:
        rides = book.rides.all_rides()
        assert {(ride.number, ride.entry.route) for ride in rides} == set(acknowledged)
        assert sorted(ride.number for ride in rides) == list(range(1, 81))
        assert check(book).findings == ()
        assert len(book.bikes.all_bikes()) == 1


def test_a_waiting_writer_is_told_when_the_other_never_lets_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook.open(path) as holder:
        monkeypatch.setattr("ridelog.storage.connection.BUSY_S", 0.1)
        with Logbook.open(path) as waiting:
            with transaction(holder.connection), pytest.raises(FileError, match="in use by another process"):
                put_ride(waiting)
            assert put_ride(waiting).number == 1


def test_a_full_disk_costs_only_what_was_not_acknowledged(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        put_ride(book)
        pages = book.connection.execute("PRAGMA page_count").fetchone()[0]
        book.connection.execute(
            f"PRAGMA max_page_count = {pages + 1}"
        )  # SQLite says "full", as it does of a disk
        taken = 1
        with pytest.raises(FileError, match="no room left"):
            while taken < 100:
                put_ride(book)
                taken += 1
        assert len(book.rides.all_rides()) == taken and check(book).findings == ()
        book.connection.execute(f"PRAGMA max_page_count = {pages + 1000}")
        assert put_ride(book).number == taken + 1


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_logbook_can_be_read(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook.open(path) as book:
        put_ride(book)
    path.chmod(0o444)
    tmp_path.chmod(0o555)
    try:
        with Logbook.open(path, create=False) as book:
            assert len(book.rides.all_rides()) == 1 and check(book).findings == ()
            with pytest.raises(FileError, match="cannot be written"):
                put_ride(book)
    finally:
        tmp_path.chmod(0o755)

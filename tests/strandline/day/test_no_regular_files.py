"""Pipes, sockets, devices and links out of the folder: none is opened, and none stops the rest.

What a kind of file does when it is opened: open(2), fifo(7), unix(7) of the Linux manual pages. Each attack runs in a
process of its own with a limit, for without the fix it never ends.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from ridelog.errors import FileError
from ridelog.storage.store import Logbook
from tests.helpers.made_day import ROSTER, MadeDay, codes

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files on this system")

LIMIT_S = 120  # of a process that takes some 2 s on an idle machine


@pytest.fixture(autouse=True)
def a_limit() -> Iterator[None]:
    """Interrupt what never ends."""

    def stop(*_: object) -> None:
        raise AssertionError(f"stuck: not done after {LIMIT_S} s")

    signal.signal(signal.SIGALRM, stop)
    signal.alarm(LIMIT_S)
    yield
    signal.alarm(0)


def ended(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process that may not wait for ever."""
    return subprocess.run(
        [sys.executable, "-m", "strandline", *map(str, words)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
    )


def put_special(folder: Path, outside: Path) -> list[str]:
    """Put one of each kind into a folder, named as photos."""
    os.mkfifo(folder / "pipe.jpg")
    here = Path.cwd()
    os.chdir(folder)  # a socket's whole path may have 107 bytes
    try:
        with socket.socket(socket.AF_UNIX) as listening:
            listening.bind("socket.jpg")
    finally:
        os.chdir(here)
    (folder / "zero.jpg").symlink_to("/dev/zero")
    (folder / "circle.jpg").symlink_to("circle.jpg")
    outside.write_bytes(b"not for the page")
    (folder / "out.jpg").symlink_to(outside)
    with (folder / "sparse.jpg").open("wb") as file:
        file.truncate(1 << 40)  # a TB that takes no room
    return ["circle.jpg", "out.jpg", "pipe.jpg", "socket.jpg", "sparse.jpg", "zero.jpg"]


def test_the_day_opens_none_and_reads_the_rest(tmp_path: Path) -> None:
    """Each is listed as an exception, and the one photo is read."""
    day = MadeDay(tmp_path / "day")
    day.put("fl.jpg")
    special = put_special(day.folder, tmp_path / "outside.jpg")
    results = day.run()
    assert {name: code for name, code in codes(results).items() if name in special} == dict.fromkeys(
        special, "unreadable"
    )
    assert codes(results).keys() - special <= {"fl.jpg"}


def test_a_link_within_the_folder_is_a_photo(tmp_path: Path) -> None:
    """Only links that lead out are refused."""
    day = MadeDay(tmp_path / "day")
    (day.folder / "full size").mkdir()
    (day.folder / "link.jpg").symlink_to(day.put("full size/fl.jpg"))
    assert "unreadable" not in codes(day.run()).values()


@pytest.mark.parametrize("bike", ["/dev/zero", "pipe", "../outside.toml", "bikes/out.toml", "nul\0"])
def test_a_roster_that_names_one_costs_that_entrant_alone(tmp_path: Path, bike: str) -> None:
    """A bike column may name no device, no pipe, and nothing outside the roster's folder."""
    (tmp_path / "outside.toml").write_text("secret = 1\n", encoding="utf-8")
    day = MadeDay(tmp_path / "day", ROSTER.replace("bikes/single.toml", bike))
    os.mkfifo(day.folder / "pipe")
    (day.folder / "bikes" / "out.toml").symlink_to(tmp_path / "outside.toml")
    four, three = (one for one in sorted(day.request.read_roster().entries, key=lambda one: -one.card))
    assert not three.problem
    assert four.problem
    assert "secret" not in four.problem


@pytest.mark.parametrize("kind", ["pipe", "zero", "socket"])
def test_read_says_that_it_is_no_file(tmp_path: Path, kind: str) -> None:
    """`read` names it in one message and ends."""
    put_special(tmp_path, tmp_path / "outside")
    result = ended("read", tmp_path / f"{kind}.jpg", "--shaft", "41 mm", "--layout", "fork")
    assert result.returncode == 1
    assert "is not a file" in " ".join((result.stdout + result.stderr).split())


@pytest.mark.parametrize("ending", ["-journal", "-wal", "-shm"])
@pytest.mark.parametrize("kind", ["folder", "link"])
def test_nothing_but_a_file_takes_a_name_beside_a_logbook(tmp_path: Path, kind: str, ending: str) -> None:
    """SQLite opens files of these names on its own ("Temporary Files Used By SQLite")."""
    book, victim = tmp_path / "logbook.sqlite", tmp_path / "victim"
    with Logbook.open(book):
        pass
    victim.write_bytes(b"somebody's")
    beside = tmp_path / f"logbook.sqlite{ending}"
    if kind == "folder":
        beside.mkdir()
    else:
        beside.symlink_to(victim)
    with pytest.raises(FileError) as raised:
        Logbook.open(book).close()
    assert beside.name in raised.value.message
    assert victim.read_bytes() == b"somebody's"


@pytest.mark.parametrize("named", ["logbook.sqlite", "link.sqlite"])
def test_no_pipe_in_the_place_of_a_journal(tmp_path: Path, named: str) -> None:
    """SQLite would wait at it for ever, also where the logbook is named by a link."""
    with Logbook.open(tmp_path / "logbook.sqlite"):
        pass
    (tmp_path / "link.sqlite").symlink_to("logbook.sqlite")
    os.mkfifo(tmp_path / "logbook.sqlite-journal")
    result = ended("ride", "list", "--logbook", tmp_path / named)
    assert result.returncode == 1
    assert "logbook.sqlite-journal" in "".join(result.stderr.split("\n"))


@pytest.mark.parametrize("kind", ["pipe.jpg", "zero.jpg"])
@pytest.mark.parametrize(
    "words",
    [
        ("day", "run", "DAY", "--roster", "FILE"),
        ("day", "new", "NEW", "--entrants", "FILE"),
        ("logbook", "import", "FILE", "--logbook", "NEW"),
        ("logbook", "check", "--logbook", "FILE"),
        ("pool", "show", "FILE"),
        ("bike", "show", "BIKE"),
    ],
    ids=lambda words: "-".join(words[:2]),
)
def test_every_command_that_reads_a_file_ends(tmp_path: Path, words: tuple[str, ...], kind: str) -> None:
    """One message, no traceback, exit status 1."""
    day = MadeDay(tmp_path / "day")
    put_special(tmp_path, tmp_path / "outside")
    (tmp_path / "bike.toml").symlink_to(tmp_path / kind)
    names = {
        "DAY": day.folder,
        "NEW": tmp_path / "new",
        "FILE": tmp_path / kind,
        "BIKE": tmp_path / "bike.toml",
    }
    result = ended(*(names.get(word, word) for word in words))
    assert result.returncode in (1, 2), result.stderr
    assert "Traceback" not in result.stderr
    assert "a device or a pipe" in result.stderr

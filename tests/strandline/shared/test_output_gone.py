"""Standard output that is full, closed or ASCII: one message, no traceback, and what was recorded stays so.

/dev/full fails each write with ENOSPC (full(4) of the Linux manual pages).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ridelog.storage.store import Logbook
from tests.helpers.made_records import BIKE

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="Linux has /dev/full")
ROOT = Path(__file__).parents[3]
STRANDLINE = f"{sys.executable} -m strandline"


def shell(line: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run a line of shell, of which `strandline` is this program."""
    return subprocess.run(
        ["sh", "-c", line.replace("strandline", STRANDLINE, 1)],
        capture_output=True,
        env={**os.environ, **environment},
        timeout=120,
    )


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Make a logbook's place, with a bike whose name has letters beyond ASCII."""
    (tmp_path / "bikes").mkdir()
    (tmp_path / "bikes" / "twin.toml").write_text(BIKE.replace("Grey twin", "Graue Zwö"), encoding="utf-8")
    return tmp_path / "logbook.sqlite"


@pytest.mark.parametrize("to", [">/dev/full", ">&-"])
@pytest.mark.parametrize(
    "words", ["bike list", "--help", "ride add --help", "bike show twin", "bike list --json"]
)
def test_one_message(book: Path, to: str, words: str) -> None:
    """Exit status 1, and one line on standard error."""
    result = shell(f"strandline {words} {to}", STRANDLINE_LOGBOOK=str(book))
    assert (result.returncode, len(result.stderr.splitlines())) == (1, 1), result.stderr
    assert result.stderr.startswith(b"Standard output cannot be written")


@pytest.mark.parametrize("to", [">/dev/full", ">&-", "| exec true"])
@pytest.mark.parametrize("json", ["", "--json"])
def test_a_ride_that_is_recorded_says_so(book: Path, to: str, json: str) -> None:
    """The ride is there, so the command ends as one that has done its work."""
    line = f"strandline ride add --bike twin --route Loop --setting rear.preload='4 clicks' {json} {to}"
    result = shell(line, STRANDLINE_LOGBOOK=str(book))
    with Logbook.open(book, create=False) as opened:
        assert len(opened.rides.all_rides()) == 1
    assert result.returncode == 0, result.stderr
    assert b"Traceback" not in result.stderr
    if "true" not in to:  # whether the other end is closed before this one writes is chance
        assert b"Ride 1 is recorded. Standard output cannot be written" in result.stderr


@pytest.mark.parametrize("words", ["bike list", "bike show twin", "ride list"])
def test_ascii(book: Path, words: str) -> None:
    """Letters that the encoding lacks do not end the command."""
    shell("strandline ride add --bike twin --route Zwö", STRANDLINE_LOGBOOK=str(book))
    result = shell(f"strandline {words}", STRANDLINE_LOGBOOK=str(book), PYTHONIOENCODING="ascii")
    assert (result.returncode, result.stderr) == (0, b"")
    assert b"Zw" in result.stdout


def test_no_output_file_takes_the_number_of_a_closed_stream(book: Path) -> None:
    """With all three closed the logbook is not file number 1."""
    result = shell("strandline ride add --bike twin --route Loop <&- >&- 2>&-", STRANDLINE_LOGBOOK=str(book))
    assert result.returncode == 0
    with Logbook.open(book, create=False) as opened:
        assert len(opened.rides.all_rides()) == 1


@pytest.mark.parametrize("words", ["bike new Other", "bike new Other --all", "bike new", "bike more twin"])
def test_questions_without_an_input_end_as_without_answers(book: Path, words: str) -> None:
    """Standard input that is closed is one that has ended."""
    closed = shell(f"strandline {words} <&-", STRANDLINE_LOGBOOK=str(book))
    (book.parent / "bikes" / "other.toml").unlink(missing_ok=True)
    ended = shell(f"strandline {words} </dev/null", STRANDLINE_LOGBOOK=str(book))
    assert b"Traceback" not in closed.stderr, closed.stderr.decode()
    assert (closed.returncode, closed.stderr) == (ended.returncode, ended.stderr)


@pytest.mark.parametrize("words", ["card", "day x"])
def test_a_folder_that_is_gone_is_said(tmp_path: Path, words: str) -> None:
    folder = tmp_path / "gone"
    folder.mkdir()
    done = shell(f"cd {folder} && rmdir {folder} && strandline {words}", PYTHONPATH=str(ROOT))
    said = done.stderr.decode()
    assert done.returncode == 1 and "has been deleted" in said and "Traceback" not in said, said

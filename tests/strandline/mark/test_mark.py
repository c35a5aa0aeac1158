"""``strandline mark``: one photo's page on this machine, and what is kept there."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner

from ridelog.names import LegName
from ridelog.storage.store import Logbook
from strandline.__main__ import cli
from strandline.mark.of_photo import PhotoToMark, Wanted
from suspension.quantities.lengths import Units
from tests.helpers.garage_server import BIKE, FORK, ROOT, Served, filled
from tests.helpers.present import present


@contextmanager
def marking(*words: str) -> Iterator[tuple[subprocess.Popen[str], Served, str]]:
    """Run the command; give it, its server, and the page's path."""
    process = subprocess.Popen(
        [sys.executable, "-m", "strandline", "mark", str(FORK), "--no-browser", "--json", *words],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    try:
        page = urlsplit(line(process)["page"])
        yield process, Served(present(page.port)), page.path
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.wait(20)
        if process.stdout is not None:
            process.stdout.close()


def line(process: subprocess.Popen[str]) -> dict[str, str]:
    """Wait for the next line of JSON."""
    assert process.stdout is not None
    ready, _, _ = select.select([process.stdout], [], [], 60)
    text = process.stdout.readline() if ready else ""
    assert text, process.poll()
    found: dict[str, str] = json.loads(text)
    return found


def test_a_rides_photo_is_put_right(tmp_path: Path) -> None:
    logbook = filled(tmp_path)
    base = ("--logbook", str(logbook))
    added = CliRunner().invoke(cli, ["ride", "add", "--photo", f"front-left={FORK}", *base])
    assert added.exit_code == 0, added.output
    with marking("--bike", BIKE, "--leg", "front-left", *base) as (process, served, page):
        while "is being read" in served.get(page).text:
            pass
        marks = json.loads(served.get(page + "/marks").text)["marks"]
        x, y = marks["seal"]
        body = json.dumps({**marks, "seal": [x, y - 60], "set": ["seal"], "sd": 1.5}).encode()
        answer = served.ask("POST", page + "/marks/keep", body, Content_Type="application/json")
        assert json.loads(answer.text)["said"] == "Ride 1 is corrected."
        kept = line(process)
        assert kept["said"] == "Ride 1 is corrected."
    with Logbook.open(logbook, create=False) as book:
        own, by_hand = book.rides.history(1).readings
        (current,) = book.rides.get(1).readings
    assert current == by_hand and by_hand.replaces == own.id and by_hand.provenance.by_hand
    assert by_hand.leg is LegName.FRONT_LEFT and by_hand.provenance.photo_name == FORK.name
    assert present(by_hand.exposed_mm).value < present(own.exposed_mm).value - 3
    shown = CliRunner().invoke(cli, ["ride", "show", "1", *base])
    assert "marks set by hand" in shown.output


def test_a_copy_of_the_photo_goes_with_a_command_that_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setenv("TMPDIR", str(passing))
    own = ("--shaft", "41.01mm", "--layout", "upside-down-fork", "--logbook", str(tmp_path / "mine.sqlite"))
    with marking(*own) as (process, _, _):
        assert list(passing.glob("strandline-mark-*"))
        process.terminate()
        process.wait(20)
        assert process.returncode == 128 + signal.SIGTERM
    assert not list(passing.glob("strandline-mark-*"))


def test_a_photo_without_a_bike_has_one_for_as_long_as_it_is_marked(tmp_path: Path) -> None:
    wanted = Wanted(FORK, None, None, "41.01mm", "upside-down-fork", None, Units.MM, tmp_path / "mine.sqlite")
    with PhotoToMark.of(wanted) as one:
        made = present(one.made)
        assert made.exists() and one.settings.folder.is_relative_to(made)
        assert one.subject.leg is LegName.FRONT and one.subject.purpose == "mark"
        assert one.learning.is_relative_to(tmp_path)
    assert not made.exists() and list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--shaft", "41mm"), "belong together"),
        (("--shaft", "41mm", "--layout", "fork", "--bike", "x"), "leave --bike out"),
        (("--shaft", "41", "--layout", "fork"), "--shaft"),
        (("--bike", "nobody"), "no bike nobody"),
        (("--bike", BIKE, "--leg", "front-lefty"), "no leg front-lefty"),
        (("--bike", BIKE), "Which leg"),
    ],
)
def test_wrong_words(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    found = CliRunner().invoke(cli, ["mark", str(FORK), *words, "--logbook", str(filled(tmp_path))])
    assert found.exit_code in (1, 2) and said in " ".join(found.output.split())


def test_a_photo_that_is_not_there(tmp_path: Path) -> None:
    found = CliRunner().invoke(
        cli, ["mark", str(tmp_path / "none.jpg"), "--shaft", "41mm", "--layout", "fork"]
    )
    assert found.exit_code == 1 and "none.jpg cannot be read" in " ".join(found.output.split())

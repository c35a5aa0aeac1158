"""The demo's second half: an invented bike, set up with the commands themselves."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ridelog.bikes.file import read_bike
from ridelog.storage.store import Logbook
from strandline.demo.setup import MARK
from tests.helpers.demo_samples import few_samples
from tests.helpers.made_readings import made, put_in_place, run


def test_demo_sets_an_invented_bike_up(invented_demo: tuple[Path, str]) -> None:
    output, said = invented_demo
    assert "Typed instead" not in said and said.count("$ strandline ride add") == 5
    assert (
        "--reading 'front-left=remaining 79.7 mm'" in said
    )  # as the sample was rendered: its photo was refused
    for words in (
        "1 turn more",
        "to 2 turns up",
        "to 3 turns up",
        "This setting is found.",
        "(not ridden yet)",
        "no setting yet",
    ):
        assert words in said, words
    page = (output / "setup.html").read_text(encoding="utf-8")
    assert page.count("<img ") == 8 and not re.search(r"https?:|<script", page) and "invented" in page
    assert_answer_first(page)
    bike = read_bike(output / "garage" / "bikes" / "sandpiper.toml")
    assert "invented" in bike.bike.name and not bike.unusual
    with Logbook.open(output / "garage" / "logbook.sqlite") as book:
        assert len(book.rides.all_rides()) == 5


def assert_answer_first(page: str) -> None:
    """Check that the answer of `strandline advise` stands above all else, and that commands are folded."""
    body = page[page.index("<body>") :]
    order = [
        body.index(words)
        for words in (
            "<h1>Front 3 turns, rear 4 clicks: found.</h1>",
            "Two-up: begin with 7 and 15.",
            "Two-up with bags: over the limit of an axle.",
            "<h2>Rides</h2>",
            "Chart: front, used",
            "Chart: rear, used",
            "The commands, and what they said",
            "<h2>Other owners</h2>",
            "Chart: front, owners",
        )
    ]
    assert order == sorted(order)
    folded = body[body.index("The commands, and what they said") : body.index("<h2>Other owners</h2>")]
    for words in (
        "Leave the front preload at 3 turns",
        "Leave the rear preload at 4 clicks",
        "two-up: try 15 clicks",
    ):
        assert words in folded
    assert "prefers-color-scheme: dark" in page


def test_demo_leaves_a_garage_that_is_not_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made())
    mine = tmp_path / "out" / "garage" / "logbook.sqlite"
    mine.parent.mkdir(parents=True)
    mine.write_text("mine")
    result = run(
        "demo", "--output", tmp_path / "out", "--samples", few_samples(tmp_path / "samples"), "--force"
    )
    assert result.exit_code == 1 and "was not made by the demo" in result.output
    assert mine.read_text() == "mine" and not (mine.parent / MARK).exists()

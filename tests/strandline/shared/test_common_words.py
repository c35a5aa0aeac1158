"""Words that people use are taken wherever the program's own are."""

from __future__ import annotations

from pathlib import Path

import pytest

from strandline.sag.command import USES
from strandline.shared import common_words
from strandline.shared.options import UNITS
from strandline.shared.photo_options import LAYOUTS, MARKERS, STATES
from tests.helpers.made_bikes import Garage
from tests.helpers.made_readings import json_lines, made, photo, put_in_place, run


@pytest.mark.parametrize(
    ("words", "known"),
    [
        (LAYOUTS, common_words.LAYOUTS),
        (MARKERS, common_words.MARKERS),
        (STATES, common_words.STATES),
        (UNITS, common_words.UNITS),
        (USES, common_words.USES),
    ],
)
def test_they_stand_for_the_programs_own(words: tuple[str, ...], known: dict[str, str]) -> None:
    assert set(known.values()) == set(words) <= set(known)


def test_read_and_ride_take_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made(143.0, 50.0, 93.0))
    words = ("read", photo(tmp_path / "a.jpg"), "--shaft", "41mm", "--layout", "USD fork")
    (line,) = json_lines(
        run(*words, "--marker", "zip tie", "--state", "rider", "--units", "inches", "--json")
    )
    assert line["status"] == "read"
    garage = Garage(tmp_path / "garage")
    (reading,) = garage.json("ride", "add", "--reading", "rear=remaining 15 mm", "--state", "wheels")[
        "readings"
    ]
    assert reading["state"] == "on-wheels"


def test_a_word_that_nobody_uses_is_refused_with_the_programs_own() -> None:
    said = run("read", "a.jpg", "--shaft", "41mm", "--layout", "girder")
    assert said.exit_code == 2 and "upside-down-fork" in said.stderr

"""``strandline`` alone, in a terminal of 80 columns; and words that are close to what was meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from strandline.__main__ import cli
from strandline.shared.suggest import did_you_mean
from tests.helpers.loaded_modules import HEAVY
from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import run
from tests.helpers.terminal import Terminal, screen_faults


def alone(logbook: Path) -> list[str]:
    """Run ``strandline`` in a terminal; the lines it shows."""
    terminal = Terminal(logbook=logbook)
    shown = terminal.end()
    assert terminal.code == 0 and not screen_faults(shown), shown
    return shown.rstrip("\n").split("\n")


def test_without_a_log_it_gives_three_ways_to_begin(tmp_path: Path) -> None:
    lines = alone(tmp_path / "logbook.sqlite")
    assert len(lines) == 5
    ways = [line.split()[:2] for line in lines[1:4]]
    assert ways == [["strandline", "demo"], ["strandline", "bike"], ["strandline", "read"]]
    assert not list(tmp_path.iterdir())


def test_with_a_log_it_says_what_there_is_and_what_is_next(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    shown = alone(garage.logbook)
    assert shown[0] == "Grey twin: no ride yet." and "read PHOTO.jpg --bike grey-twin --record" in shown[2]
    garage.ok("ride", "add", "--bike", "grey-twin", "--date", "2026-09-01", "--note", "wet")
    assert "strandline ride amend 1" in alone(garage.logbook)[2]
    add = ("ride", "add", "--bike", "grey-twin", "--reading", "rear=remaining 15 mm", "--load", "solo")
    garage.ok(*add, "--date", "2026-09-03", "--route", "Ridge loop")
    garage.ok(*add, "--date", "2026-09-02")  # typed later, ridden before
    (garage.bike.parent / "red-one.toml").write_text(BIKE.replace("Grey twin", "Red one"), encoding="utf-8")
    assert alone(garage.logbook) == [
        "Grey twin: 3 rides, the last on 2026-09-03 (Ridge loop, solo).",
        "Red one: no ride yet.",
        "Next: strandline advise --bike grey-twin",
        "strandline --help lists all commands.",
    ]


def test_many_bikes_still_fit_five_lines(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    for number in range(6):
        path = garage.bike.with_name(f"bike-{number}.toml")
        path.write_text(BIKE.replace("Grey twin", f"Bike {number}"), encoding="utf-8")
    garage.ok("ride", "add", "--bike", "bike-4", "--reading", "rear=remaining 15 mm")
    shown = alone(garage.logbook)
    assert len(shown) == 5 and shown[0].startswith("Bike 4: 1 ride")
    assert shown[3] == "4 more bikes: strandline bike list" and "--bike bike-4" in shown[4]


def test_without_a_log_nothing_heavy_is_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.helpers.loaded_modules import modules_after

    monkeypatch.setenv("STRANDLINE_LOGBOOK", str(tmp_path / "none.sqlite"))
    assert not modules_after() & (HEAVY | {"sqlite3"})


# Typing errors as the literature sorts them (Damerau, 1964): letters swapped, left out, added, replaced.
@pytest.mark.parametrize("typed", ["raed", "rea", "reead", "resd"])
def test_a_mistyped_command_is_asked_back(typed: str) -> None:
    result = run(typed)
    assert result.exit_code == 2 and f"There is no command {typed}. Did you mean read?" in result.stderr


def test_mistyped_words_of_every_kind(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    garage.ok("ride", "add", "--bike", "grey-twin", "--load", "solo", "--reading", "rear=remaining 15 mm")
    assert "Did you mean show?" in run("bike", "shwo").stderr
    assert "--shaft" in run("read", "a.jpg", "--shat", "41mm").stderr
    assert "Did you mean grey-twin?" in garage.refused("bike", "show", "gray-twin")
    assert "Did you mean solo?" in garage.refused("advise", "--bike", "grey-twin", "--load", "sloo")
    assert "lists them" in run("zzz").stderr


def test_what_is_not_close_is_not_asked_about() -> None:
    assert did_you_mean("bouquet", cli.list_commands(None)) == ""  # type: ignore[arg-type]

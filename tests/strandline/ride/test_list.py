"""``strandline ride list`` in a terminal of 80 columns: one line a ride, whatever is long."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.terminal import Terminal, screen_faults

LONG = ("--route", "Ridge loop the long way round", "--load", "passenger and bags", "--felt", "front=dives")
SEEN = ("--reading", "front-left=marker 50 mm, exposed 150 mm", "--reading", "rear=remaining 15 mm, at-stop")


def listed(garage: Garage) -> list[str]:
    """List the rides in a terminal without colours; the lines."""
    terminal = Terminal("ride", "list", logbook=garage.logbook, NO_COLOR="1", TERM="dumb")
    shown = terminal.end()
    assert terminal.code == 0 and not screen_faults(shown), shown
    return shown.rstrip("\n").split("\n")


def test_one_line_a_ride_and_no_number_is_cut(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    counts = ("--setting", "front.preload=3 turns", "--setting", "rear.preload=6 clicks")
    garage.ok("ride", "add", *LONG, *SEEN, *counts, "--state", "on-wheels", "--date", "2026-09-01")
    garage.ok("ride", "add", "--date", "2026-09-02", "--note", "wet")
    name, heading, _, first, second, more = listed(garage)
    assert name == "Grey twin" and heading.split()[:2] == ["Ride", "Date"] and "ride show" in more
    assert (
        first.startswith("1     2026-09-01  Ridge") and "…" in first and second.startswith("2     2026-09-02")
    )
    used = [
        one["stroke"]["used_mm"]["value"] for one in garage.json("ride", "show", "1")["readings"]
    ]  # the same numbers as the ride itself shows
    assert f"3: {used[0]:.1f} ± " in first and f"6: ≥ {used[1]:.1f} ± " in first


def test_two_bikes_are_told_apart(tmp_path: Path) -> None:
    garage = Garage(tmp_path)
    garage.bike.with_name("red-one.toml").write_text(BIKE.replace("Grey twin", "Red one"), encoding="utf-8")
    for bike in ("grey-twin", "red-one"):
        garage.ok("ride", "add", "--bike", bike, *LONG, *SEEN, "--state", "on-wheels")
    lines = listed(garage)
    assert len(lines) == 5 and lines[2].split()[2] == "Grey" and lines[3].split()[2] == "Red"

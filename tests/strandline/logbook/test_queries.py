"""Commands that list ask the logbook a fixed number of questions, however many rows it holds."""

from __future__ import annotations

import sqlite3
from collections import Counter
from pathlib import Path

import pytest

from ridelog.storage import connection
from tests.helpers.made_bikes import Garage

LISTINGS: dict[str, tuple[str, ...]] = {
    "ride list": ("ride", "list"),
    "ride list of a bike": ("ride", "list", "--bike", "grey-twin", "--json"),
    "bike list": ("bike", "list"),
    "loads": ("loads", "--bike", "grey-twin"),
    "sag": ("sag", "--bike", "grey-twin"),
    "advise": ("advise", "--bike", "grey-twin"),
    "logbook check": ("logbook", "check"),
}


def filled(folder: Path, count: int) -> Garage:
    """Fill a garage with so many rides, load cases, sag sessions and versions of the bike's file."""
    garage = Garage(folder)
    bike = ("--bike", "grey-twin", "--date", "2026-05-01")
    for number in range(count):
        text = garage.bike.read_text(encoding="utf-8")
        garage.bike.write_text(f"{text}# version {number}\n", encoding="utf-8")
        load = ("--load", f"load {number}")
        reading = ("--reading", "rear=remaining 15 mm", "--setting", "rear.preload=6 clicks")
        garage.ok("ride", "add", *bike, *load, *reading, "--felt", "harsh")
        garage.ok("loads", "--bike", "grey-twin", *load, "--rider", "84 kg at 780 mm")
        garage.ok(
            "sag", *bike, *load, "--length", "rear=hanging 600 mm, on-wheels 590 mm, rider-aboard 570 mm"
        )
    return garage


@pytest.fixture(scope="module")
def garages(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Garage]:
    return {count: filled(tmp_path_factory.mktemp(f"of-{count}"), count) for count in (3, 12)}


@pytest.mark.parametrize("name", LISTINGS)
def test_more_rows_take_no_more_queries(
    garages: dict[int, Garage], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    statements: list[str] = []
    open_raw = connection.open_raw

    def traced(name: str) -> sqlite3.Connection:
        opened = open_raw(name)
        opened.set_trace_callback(statements.append)
        return opened

    monkeypatch.setattr(connection, "open_raw", traced)
    asked = {}
    for count, garage in garages.items():
        statements.clear()
        garage.ok(*LISTINGS[name])
        asked[count] = Counter(one for one in statements if one.startswith("SELECT"))
    few, many = asked.values()
    assert few and few.total() == many.total(), many - few

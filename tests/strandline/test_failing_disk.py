"""A week of rides on a disk that fails at any operation: nothing acknowledged is lost, and failures come in words.

Faults as file systems report them: EIO at any operation, ENOSPC at writes, writes of which half arrives; one operation,
or all from there on.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from ridelog.bikes.file import parse_bike
from ridelog.transfer.as_json import from_json
from tests.helpers.failing_disk import failing_disk
from tests.helpers.made_bikes import Garage

ADD = ("ride", "add", "--bike", "grey-twin", "--load", "solo", "--setting", "rear.preload=6 clicks")
READING = ("--reading", "rear=exposed 65 mm, marker 50 mm, remaining 15 mm", "--state", "on-wheels")
SAG = ("sag", "--bike", "grey-twin", "--load", "solo", "--exposed", "rear=on-wheels 70 mm / 71 mm")
# A little more than a sound disk counts, of each command [measured]; of advise, whose second word is an option, 57.
OPERATIONS = {"add": 230, "amend": 95, "sag": 140, "export": 40, "backup": 160, "edit": 6, "--bike": 65}


def said_in_words(result: Result) -> bool:
    """Whether it ended with status 0, or with a message and no traceback."""
    ended_well = result.exception is None or isinstance(result.exception, SystemExit)
    return ended_well and (result.exit_code == 0 or "Error: " in result.output or "recorded" in result.output)


def a_week(folder: Path, monkeypatch: pytest.MonkeyPatch, seed: int) -> int:
    """Record seven days of it; count the commands that met a fault."""
    chance = random.Random(seed)
    garage = Garage(folder / "garage")
    bike = garage.bike
    met = recorded = measured = 0
    with failing_disk(monkeypatch) as (failing, _):
        assert garage.run(*ADD, *READING, "--date", "2026-05-01").exit_code == 0
        recorded = 1
        for day in range(2, 9):
            date = ("--date", f"2026-05-{day:02d}")
            out = folder / f"{day}.json"
            copy = folder / f"{day}.sqlite"
            for words in (
                (*ADD, *READING, *date),
                ("ride", "amend", "1", "--note", f"day {day}"),
                (*SAG, *date),
                ("logbook", "export", "-o", str(out)),
                ("logbook", "backup", "-o", str(copy)),
                ("bike", "edit", "grey-twin", "--set", f"note=day {day}"),
                ("advise", "--bike", "grey-twin"),
            ):
                failing.set(chance, OPERATIONS[words[1] if words[0] != "sag" else "sag"])
                result = garage.run(*words)
                met += bool(failing.failed)
                fault = failing.failed
                failing.set(None)
                assert result.exit_code == 0 or fault, (seed, words, result.output)
                assert said_in_words(result), (seed, words, result.output, result.exception)
                # What it says it did, it did; what it says it did not do, it did not do.
                checked = garage.run("logbook", "check")
                assert checked.exit_code == 0, (seed, words, checked.output)
                rides = json.loads(garage.run("ride", "list", "--json").output)
                done = result.exit_code == 0 or "is recorded" in result.output
                if words[:2] == ("ride", "add"):
                    recorded += done
                    assert len(_rides(rides)) == recorded, (seed, words, result.output)
                assert len(_rides(rides)) == recorded
                if words[0] == "sag":
                    measured += result.exit_code == 0
                if words[1] == "export":
                    assert out.exists() or result.exit_code
                    if out.exists():
                        from_json(out.read_text(encoding="utf-8"), out.name)
                if words[1] == "backup" and copy.exists():
                    assert garage.run("logbook", "check", "--logbook", str(copy)).exit_code == 0
                if result.exit_code == 0 and words[1] == "edit":
                    assert f"day {day}" in bike.read_text(encoding="utf-8")
                parse_bike(bike.read_text(encoding="utf-8"), bike.name)
                left = [one.name for one in garage.logbook.parent.iterdir() if one.name.endswith(".part")]
                assert not left or failing.goes_on, (seed, words, left)
    return met


def _rides(found: Any) -> list[object]:
    return list(found["rides"] if isinstance(found, dict) else found)


def test_a_week(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert a_week(tmp_path, monkeypatch, 21) > 15


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_weeks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    assert a_week(tmp_path, monkeypatch, seed) > 10

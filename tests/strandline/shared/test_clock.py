"""Clocks that go back, or were never set: nothing is dated wrongly in silence, and nothing is locked."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.helpers.made_bikes import Garage

ADD = ("ride", "add", "--bike", "grey-twin", "--note", "wet")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


def set_clock(monkeypatch: pytest.MonkeyPatch, day: str) -> None:
    """Set the clock by which records are dated."""

    class Clock(dt.date):
        @classmethod
        def today(cls) -> Clock:
            return cls.fromisoformat(day)

    monkeypatch.setattr("strandline.shared.parse.dt", SimpleNamespace(date=Clock, timedelta=dt.timedelta))


def test_a_clock_that_went_back(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    """A board without a battery starts at the time of its last shutdown, or earlier."""
    set_clock(monkeypatch, "2026-06-02")
    assert "one of the two dates" not in garage.run(*ADD).output
    set_clock(monkeypatch, "2026-05-01")
    done = garage.run(*ADD)
    assert done.exit_code == 0 and "one of the two dates is wrong" in " ".join(done.output.split())
    assert "strandline ride amend 2 --date" in " ".join(done.output.split())
    assert (
        "one of the two dates" not in garage.run(*ADD, "--date", "2026-04-01").output
    )  # a date that was given is meant
    refused = garage.run(*ADD, "--date", "2026-06-02")
    assert refused.exit_code == 2 and "the clock of this machine says 2026-05-01" in " ".join(
        refused.output.split()
    )


@pytest.mark.parametrize("day", ["1970-01-01", "1980-01-01", "2000-01-01", "2025-12-31"])
def test_a_clock_that_was_never_set(garage: Garage, monkeypatch: pytest.MonkeyPatch, day: str) -> None:
    set_clock(monkeypatch, day)
    refused = garage.run(*ADD)
    assert refused.exit_code == 1 and f"says {day}, which cannot be" in " ".join(refused.output.split())
    assert garage.run(*ADD, "--date", "2026-06-02").exit_code == 0  # does not lock out who knows the date
    lengths = ("sag", "--bike", "grey-twin", "--load", "solo", "--exposed", "rear=on-wheels 70 mm")
    assert garage.run(*lengths).exit_code == 1
    assert garage.run(*lengths, "--date", "2026-06-02").exit_code == 0

"""What the arithmetic can do is reached by a command: ratio of a swingarm, frequency, reserve at the wheel, recount.

Check values: a shock at r 400, psi 70, La 500, beta 0 has a ratio of 0.7518 [derived]; f = 15.761/sqrt(Ws/kw) Hz
[handbook]; 27 mm of stroke at a ratio of 0.75 are 36 mm at the wheel.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from click.testing import CliRunner

from strandline.__main__ import cli
from tests.helpers.made_bikes import Garage
from tests.strandline.bike.test_unusual_values import TWIN


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage", TWIN)


ADD = ("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01")


def test_ratio_of_a_swingarm(garage: Garage) -> None:
    at = ("bike", "ratio", "--mount", "400 mm", "--arm", "500 mm", "--shock-angle", "70 deg")
    said = CliRunner().invoke(cli, at).output
    assert "Motion ratio 0.752" in said and "rear.motion_ratio=0.752" in said
    inverted = CliRunner().invoke(cli, [*at[:3], "625 mm", *at[4:]]).output
    assert "outside the usual 0.7 to 0.95" in inverted


def test_ride_frequency_with_the_load(garage: Garage) -> None:
    """Rear 160 kg less 20 kg unsprung, kw 26.0 N/mm: 15.761/sqrt(140 x 9.80665/26.01) = 2.17 Hz."""
    garage.ok("bike", "edit", "grey-twin", "--set", "rear.unsprung='20 kg'")
    scales = ("--scales", "front=120 kg", "--scales", "rear=160 kg")
    at = ("loads", "--bike", "grey-twin", "--load", "solo", *scales)
    (load,) = garage.json(*at)["loads"]
    expected = 15.761 / math.sqrt(140 * 9.80665 / (2 * 18 * 0.85**2))
    assert load["ride_frequency_hz"] == {"rear": pytest.approx(expected, abs=2e-3)}
    assert "Ride frequency: rear 2.2 Hz." in garage.ok(*at)
    garage.ok("bike", "edit", "grey-twin", "--set", "leg.rear-left.spring.rate='95 N/mm'")
    assert "outside the usual 1.5 to 3" in garage.ok(*at)


def test_reserve_at_the_wheel(garage: Garage) -> None:
    """65 mm used of 92 at a ratio of 0.85: 27/0.85 = 31.8 mm at the wheel."""
    garage.ok("bike", "edit", "grey-twin", "--set", "leg.rear-left.marker.kind='o-ring'")
    said = garage.ok(*ADD, "--reading", "rear-left=remaining 15 mm")
    assert "left at the wheel, to the hard stop: 31.8" in said


def test_a_recount_that_agrees_and_one_that_does_not(garage: Garage) -> None:
    garage.ok(*ADD, "--reading", "rear-left=remaining 15 mm", "--setting", "rear.preload=3 positions")
    again = ("ride", "recount", "--bike", "grey-twin", "--setting")
    assert garage.json(*again, "rear.preload=3 positions")["agrees"] is True
    found = garage.json(*again, "rear.preload=2 positions")
    assert found["agrees"] is False and "not known" in found["words"]
    settings = garage.json("ride", "show", "1")["settings"]
    assert [one["confidence"] for one in settings] == ["unknown"] * 2 and settings[0]["count"] is None
    assert "counted in positions" in garage.refused(*again, "rear.preload=2 clicks")

"""How the bike stands by both ends' sag. Check value: front 7.6 mm lower and rear 9.9 mm higher over 1440 mm is 0.70
degrees steeper [derived].
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.helpers.made_bikes import Garage
from tests.strandline.bike.test_unusual_values import TWIN

BIKE = (
    TWIN.replace('steps = "5 positions"', 'steps = "10 clicks"\nstep = "1 mm"').replace(
        '"positions"', '"clicks"'
    )
    + """
[front]
rake = "25 deg"
wheel_radius = "300 mm"
fork_offset = "40 mm"

[leg.front-left]
layout = "fork"
"""
)
SAG = ("sag", "--bike", "grey-twin", "--load", "solo")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage", BIKE)


def lengths(front: float, rear: float) -> tuple[str, ...]:
    return (
        *("--length", f"front=hanging 600 mm, rider-aboard {600 - front:.1f} mm"),
        *("--length", f"rear=hanging 600 mm, rider-aboard {600 - rear:.1f} mm"),
    )


def test_since_the_session_before_it_stands_steeper(garage: Garage) -> None:
    garage.ok(*SAG, "--date", "2026-05-01", *lengths(30.0, 40.0))
    found = garage.json(*SAG, "--date", "2026-05-02", *lengths(37.6, 30.1))["attitude"]
    assert (
        "Since sag was last measured: The steering is 0.7 degrees steeper, its trail 4 mm shorter" in found[1]
    )
    assert found[0].startswith("With the rider aboard the bike stands 0.3 degrees nose down")
    # trail (R sin e - offset)/cos e at 25 and at 24.3 degrees, by hand
    trails = [(300 * math.sin(e) - 40) / math.cos(e) for e in (math.radians(25), math.radians(24.296))]
    assert round(trails[0] - trails[1]) == 4
    shown = garage.json(*SAG)["attitude"]
    assert shown == found


def test_less_than_is_shown_is_level(garage: Garage) -> None:
    """1 mm over 1440 mm is 0.04 degrees: not "0.0 degrees nose down"."""
    found = garage.json(*SAG, *lengths(31.0, 30.0))["attitude"]
    assert found[0] == "With the rider aboard the bike stands as level as with both wheels hanging free."


def test_a_step_lifts_its_end(garage: Garage) -> None:
    """1 mm of stroke at a ratio of 0.85 is 1.2 mm at the wheel: 0.05 degrees over 1440 mm."""
    said = garage.ok(*SAG, *lengths(30.0, 40.0))
    assert "One click more preload at the rear lifts it by 1.2 mm." in said


def test_without_both_ends_or_the_wheelbase_nothing_is_said(garage: Garage) -> None:
    found = garage.json(*SAG, *lengths(30.0, 40.0)[:2])["attitude"]
    assert not any("stands" in words for words in found)
    garage.ok("bike", "edit", "grey-twin", "--set", 'wheelbase="don\'t know"')
    assert garage.json(*SAG, *lengths(30.0, 40.0))["attitude"] == []

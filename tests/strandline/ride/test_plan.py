"""``strandline ride plan``: the trade's session, with what is done left out [common practice]."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import Garage
from tests.strandline.bike.test_unusual_values import TWIN

PLAN = ("ride", "plan", "--bike", "grey-twin")
ADD = (
    "ride",
    "add",
    "--bike",
    "grey-twin",
    "--date",
    "2026-05-01",
    "--load",
    "solo",
    "--route",
    "Ridge loop",
)
READ = ("--reading", "rear-left=remaining 15 mm", "--setting", "rear.preload=3 positions")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage", TWIN)


def steps(garage: Garage) -> str:
    return "\n".join(garage.json(*PLAN)["steps"])


def test_before_the_first_ride_the_marker_is_checked(garage: Garage) -> None:
    said = garage.ok(*PLAN)
    order = (
        "roll 100 m",
        "tyre pressures",
        "Measure sag, rear",
        "Count all adjusters",
        "three times",
        "advise",
    )
    places = [said.index(words) for words in order]
    assert places == sorted(places)
    assert "Keep the marker clear of brake line" in said and "on purpose" in said


def test_what_is_done_is_left_out(garage: Garage) -> None:
    garage.ok("bike", "edit", "grey-twin", "--set", "rear.tyre_solo='2.5 bar'")
    garage.ok(*ADD, *READ)
    garage.ok(
        "sag", "--bike", "grey-twin", "--load", "Solo", "--length", "rear=hanging 600 mm, rider-aboard 568 mm"
    )
    said = steps(garage)
    assert "roll 100 m" not in said and "Measure sag" not in said
    assert "rear 2.5 bar" in said and "rear-left preload 3" in said and "“Ridge loop” twice more" in said
    garage.ok(*ADD, *READ)
    garage.ok(*ADD, *READ)
    assert "Slide the markers" not in steps(garage)


def test_another_spring_begins_again(garage: Garage) -> None:
    for _ in range(3):
        garage.ok(*ADD, *READ)
    garage.ok(
        "sag", "--bike", "grey-twin", "--load", "solo", "--length", "rear=hanging 600 mm, rider-aboard 568 mm"
    )
    garage.ok("bike", "edit", "grey-twin", "--set", "leg.rear-left.spring.rate='20 N/mm'")
    assert "three times" in steps(garage) and "Measure sag, rear" in steps(garage)


def test_an_event_is_the_whole_plan(garage: Garage) -> None:
    garage.ok(*ADD, *READ, "--event", "bent fork tube")
    plan = garage.json(*PLAN)
    assert plan["steps"] == [] and plan["stop"] == ["bent fork tube"]
    assert "Stop riding" in garage.ok(*PLAN)

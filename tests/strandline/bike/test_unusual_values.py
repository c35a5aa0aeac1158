"""Slips in a bike's file are reported where it is shown and where sag is recorded, by the trade's figures.

Twin shocks: spring 15 to 30 N/mm, motion ratio 0.7 to 0.95 [common practice]. Sag pair: 84 kg rider at 790 of 1440 mm,
7 and 32 mm -> 18.1 N/mm at the wheel against 2 x 18 x 0.85² = 26.0 [derived].
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import Garage

TWIN = """\
format = 1
name = "Grey twin"
use = "street"
wheelbase = "1440 mm"

[rear]
wheel_travel = "105 mm"
motion_ratio = 0.85

[leg.rear-left]
layout = "shock"
shaft = "12.0 mm"
extended = "80 mm"
stroke = "92 mm"

[leg.rear-left.spring]
rate = "18 N/mm"
preload_at_soft = "10 mm"

[leg.rear-left.adjuster.preload]
kind = "positions"
steps = "5 positions"

[leg.rear-right]
same_as = "rear-left"
"""
RIDER = ("--rider", "84 kg at 790 mm")
SAG = ("sag", "--bike", "grey-twin", "--load", "solo", "--dry-run")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage", TWIN)


def edit(garage: Garage, *changes: str) -> None:
    for change in changes:
        garage.ok("bike", "edit", "grey-twin", "--set", change)


def length(static: float, rider: float) -> tuple[str, ...]:
    return ("--length", f"rear=hanging 600 mm, on-wheels {600 - static} mm, rider-aboard {600 - rider} mm")


def test_a_bike_as_usual_has_nothing_unusual(garage: Garage) -> None:
    assert garage.json("bike", "show", "grey-twin")["unusual"] == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            "leg.rear-left.spring.rate='95 N/mm'",
            "twin shock spring's rate, N/mm each: 95 is outside the usual 15 to 30",
        ),
        ("rear.motion_ratio=1.18", "Its reciprocal is usual"),
        ("leg.rear-left.stroke='260 mm'", "twin shock's stroke, mm: 260 is outside"),
    ],
)
def test_slips_are_reported_with_the_file_and_with_sag(garage: Garage, change: str, words: str) -> None:
    edit(garage, change)
    assert words in garage.ok("bike", "show", "grey-twin")
    assert words in garage.ok(*SAG, *length(7, 32))


def test_both_sides_alike_say_it_once(garage: Garage) -> None:
    edit(garage, "leg.rear-left.spring.rate='95 N/mm'")
    assert garage.ok("bike", "show", "grey-twin").count("outside the usual") == 1


def test_a_sag_pair_that_does_not_fit_the_file(garage: Garage) -> None:
    garage.ok("loads", "--bike", "grey-twin", "--load", "solo", *RIDER)
    (words,) = garage.json(*SAG, *length(7, 32))["contradictions"]
    assert "18.1 N/mm" in words and "26.0 N/mm" in words and "something is wrong" in words
    assert words in garage.ok(*SAG, *length(7, 32))


def test_a_sag_pair_that_fits_says_nothing(garage: Garage) -> None:
    """452 N over 26.0 N/mm are 17.4 mm."""
    garage.ok("loads", "--bike", "grey-twin", "--load", "solo", *RIDER)
    assert garage.json(*SAG, *length(14, 31.4))["contradictions"] == []


def test_an_inverted_ratio_is_recognised_by_the_sag_pair(garage: Garage) -> None:
    """By the right ratio 0.75: 2 x 18 x 0.75² = 20.25 N/mm, 22.3 mm; the file says 1/0.75."""
    garage.ok("loads", "--bike", "grey-twin", "--load", "solo", *RIDER)
    edit(garage, "rear.motion_ratio=1.3333")
    words = garage.json(*SAG, *length(10, 32.3))["contradictions"][0]
    assert "motion ratio is inverted" in words


def test_without_the_riders_mass_the_pair_says_nothing(garage: Garage) -> None:
    assert garage.json(*SAG, *length(7, 32))["contradictions"] == []

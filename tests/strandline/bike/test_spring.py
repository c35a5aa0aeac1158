"""``strandline bike spring`` on the trade's check values [derived there].

u 79, d 14, Sb 90, S 100 -> headroom 1.12 and 1.23. 10 mm more oil in a 41 mm tube with V0 = A x 250 mm, n 1.3: +14 N at
115 mm.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import Garage
from tests.strandline.bike.test_unusual_values import TWIN

SHOCK = (
    TWIN.replace(
        'extended = "80 mm"\nstroke = "92 mm"',
        'extended = "90 mm"\nstroke = "100 mm"\nmarker.kind = "o-ring"',
    )
    .replace(
        'steps = "5 positions"',
        'steps = "5 positions"\npositions = ["0 mm", "4 mm", "8 mm", "12 mm", "16 mm"]',
    )
    .replace("motion_ratio = 0.85", 'motion_ratio = 0.85\nunsprung = "20 kg"')
)
FORK = """
[front]
rake = "25 deg"
unsprung = "15 kg"

[leg.front-left]
layout = "fork"
shaft = "41 mm"
extended = "150 mm"
stroke = "115 mm"

[leg.front-left.air]
piston_diameter = "41 mm"
volume = "330.06 ml"
pressure_absolute = "101.325 kPa"
"""
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
SPRING = ("bike", "spring", "grey-twin")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    made = Garage(tmp_path / "garage", SHOCK + FORK)
    made.ok(
        "loads",
        "--bike",
        "grey-twin",
        "--load",
        "solo",
        "--scales",
        "front=120 kg",
        "--scales",
        "rear=149.1 kg",
    )
    return made


def test_headroom_and_the_spring_to_buy(garage: Garage) -> None:
    """11 mm left of 90 at position 2: u 79, d 10 + 4; Ws 129.1 kg = 1266 N."""
    garage.ok(*ADD, "--reading", "rear-left=remaining 11 mm", "--setting", "rear.preload=2 positions")
    (answer,) = garage.json(*SPRING, "--end", "rear", "--load", "SOLO")["answers"]
    assert answer["headroom"] == {
        "to_bumper": pytest.approx(1.12, abs=0.005),
        "to_stop": pytest.approx(1.23, abs=0.005),
    }
    lam = (79 + 14) * 2 * 18 * 0.85 / 1266
    assert answer["worst"]["load_factor"] == pytest.approx(lam, rel=1e-3)
    sag, depth = 0.30 * 105 * 0.85, 0.875 * 90  # the middle of 25 to 35 % of 105 mm, seven eighths of Sb
    rate = (lam - 1) * 1266 / (2 * 0.85 * (depth - sag))
    assert answer["spring"]["rate_n_per_mm"] == pytest.approx(rate, rel=1e-3)
    said = garage.ok(*SPRING, "--end", "rear")
    assert (
        f"{rate:.1f} N/mm each" in said and "(now 18 N/mm)" in said and "12 % harder meets the bumper" in said
    )


def test_oil_and_what_is_missing(garage: Garage) -> None:
    (answer,) = garage.json(*SPRING, "--end", "front")["answers"]
    assert answer["oil"] == [[115.0, pytest.approx(14, abs=0.5)]]
    said = garage.ok(*SPRING, "--end", "front")
    assert "10.0 mm more oil adds in each leg 14 N at 115.0 mm" in said
    assert "strandline bike edit BIKE --set leg.front-left.spring.rate='9 N/mm'" in said


def test_without_rides_it_says_so(garage: Garage) -> None:
    assert "No ride of this load" in garage.ok(*SPRING, "--end", "rear")
    assert "There is no load two-up" in garage.refused(*SPRING, "--load", "two-up")

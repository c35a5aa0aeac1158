"""What an owner would miss: sag, headroom, how the bike stands, left against right, the rate by sag, with the advice.

Each number is worked out by hand [derived statics]; what is right is common practice, no source.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.helpers.made_bikes import WEIGHED
from tests.strandline.advise.test_stories import Owner

BOTH = (
    "--length",
    "front=hanging 640 mm, on-wheels 618 mm / 622 mm, rider-aboard 606 mm / 610 mm",
    "--length",
    "rear=hanging 640 mm, on-wheels 631 mm / 635 mm, rider-aboard 603 mm / 607 mm",
)


def measured(owner: Owner, *lengths: str) -> None:
    owner.place.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "84 kg at 700 mm")
    sag = ("sag", "--bike", "grey-twin", "--load", "solo", "--date", "2026-05-01")
    owner.place.ok(*sag, *lengths)


@pytest.fixture
def owner(tmp_path: Path) -> Owner:
    return Owner(tmp_path)


def test_explain_shows_sag_headroom_and_stance(owner: Owner) -> None:
    owner.ride("6 clicks", "remaining 15 mm")
    measured(owner, *BOTH)
    case = owner.asked()
    # 35 of 115 mm; u 65, d 8 + 6, Sb 80, S 92: 94/79 and 106/79.
    assert "Sag: rider sag 30.4 ± 0.5 % at 6 clicks up from the soft end, in its window (25" in case["said"]
    assert pytest.approx((1.19, 1.34), abs=0.005) == (94 / 79, 106 / 79)
    assert (
        "Headroom: A hit 19 % harder meets the bumper and one 34 % harder reaches the hard stop"
        in case["said"]
    )
    # front 32 mm down, rear 35 mm: atan(3/1400) nose up. A click is 1 mm of stroke, 1.25 mm of wheel.
    assert math.degrees(math.atan(3 / 1400)) == pytest.approx(0.12, abs=0.005)
    assert "Stance: With the rider aboard the bike stands 0.1 degrees nose up" in case["said"]
    assert "One click more preload at the rear lifts it by 1.2 mm." in case["said"]
    assert "front lifts" not in case["said"]
    assert set(case["besides"]) == {"sag", "headroom", "stance"}
    assert "--explain also shows sag, headroom" in owner.place.ok("advise", "--bike", "grey-twin")


def test_what_headroom_needs_is_named_with_its_command(tmp_path: Path) -> None:
    owner = Owner(tmp_path, WEIGHED.replace('rate = "40 N/mm"\n', ""))
    said = owner.ride("6 clicks", "remaining 15 mm")["said"]
    assert "Headroom: not known. The spring's rate is not known: strandline bike edit" in said


def test_left_against_right_is_said_where_it_lasts(tmp_path: Path) -> None:
    fork = Owner(tmp_path, end="front")
    for left in (125, 120, 130):
        case = fork.ride(
            "3 turns", f"remaining {left} mm", "--reading", f"front-right=remaining {left + 9} mm"
        )
    words = "Over 3 rides the left leg goes 9.0 mm deeper on average"
    assert case["said"].count(words) == 1 and any(words in one for one in case["advice"]["remarks"])


def test_sag_that_the_file_cannot_explain_is_said_with_the_advice(owner: Owner) -> None:
    owner.ride("6 clicks", "remaining 15 mm")
    # 84 kg at 700 of 1400 mm: 411.9 N over 28 mm are 14.7 N/mm; the file has 40 x 0.8^2 = 25.6.
    measured(owner, *BOTH)
    case = owner.asked()
    assert pytest.approx(14.7, abs=0.02) == 84 * 9.80665 / 2 / 28
    assert "14.7 N/mm at the wheel by the two sags, 25.6 by the file" in case["said"]


def test_a_spring_typed_95_for_18_is_contradicted_by_the_rides(tmp_path: Path) -> None:
    """On a twin shock of 18 N/mm the rides' load factors come out five times as high as any road's, 1.5 to 2.5."""
    twin = WEIGHED.replace("[leg.rear]", "[leg.rear-left]").replace("[leg.rear.", "[leg.rear-left.")
    twin = (
        twin.replace('rate = "40 N/mm"', 'rate = "18 N/mm"') + '\n[leg.rear-right]\nsame_as = "rear-left"\n'
    )
    for rate, fits in (("18", True), ("95", False)):
        owner = Owner(tmp_path / rate, twin.replace('"18 N/mm"', f'"{rate} N/mm"'), leg="rear-left")
        owner.place.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "84 kg at 700 mm")
        for left in (15, 18, 12):
            case = owner.ride("6 clicks", f"remaining {left} mm")
        said = case["said"]
        assert ("do not fit the springs, the motion ratio or the load in the bike's file" in said) is not fits
        assert (
            "The twin shock spring's rate, N/mm each: 95 is outside the usual 15 to 30" in said
        ) is not fits

"""Harsh with stroke in reserve, wallowing, diving: a step of damping where its count is known, one change at a time.

What is right is the trade's practice (common practice, no source): tyres first; against harshness less compression
damping, against wallowing more rebound, against dive more compression.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import WEIGHED
from tests.strandline.advise.test_stories import Owner

DAMPED = WEIGHED.replace("[rear]\n", '[rear]\ntyre_solo = "2.5 bar"\n', 1) + (
    '\n[leg.rear.adjuster.compression]\nkind = "clicks"\nsteps = "20 clicks"\n'
)
HARSH = ("--felt", "rear=harsh", "--pressure", "rear=2.5 bar")
AT_8 = ("--setting", "rear.compression=8 clicks")
LESS = "change the damping"


@pytest.fixture
def owner(tmp_path: Path) -> Owner:
    return Owner(tmp_path, DAMPED)


def test_harsh_in_reserve_takes_a_click_of_compression_and_leaves_preload(owner: Owner) -> None:
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH, *AT_8)
    advice = case["advice"]
    assert (advice["action"], advice["steps"], advice["resulting_count"]) == (LESS, 0, 6)
    words = "Rear compression damping: one click softer, from 8 to 9 out, then the same loop."
    assert words in case["said"] and "Leave the rear preload at 6 clicks" in case["said"]
    assert "more preload" not in case["said"] and "less preload" not in case["said"]
    case = owner.ride("6 clicks", "remaining 33 mm", *HARSH[2:], "--setting", "rear.compression=9 clicks")
    assert case["advice"]["action"] != LESS and case["runs"] == 1  # with other damping a ride is another


@pytest.mark.parametrize(
    ("reading", "more"),
    [
        ("remaining 35 mm", ("--felt", "rear=harsh", "--pressure", "rear=1.4 bar", *AT_8)),  # tyres first
        ("remaining 35 mm", ("--felt", "rear=harsh", *AT_8)),  # nobody looked at the tyres
        ("remaining 35 mm", HARSH),  # the count is not known
        ("remaining 35 mm", (*HARSH, "--setting", "rear.compression=8 clicks?")),
        ("remaining 35 mm", (*HARSH, "--setting", "rear.compression=20 clicks")),  # the soft end
        ("remaining 35 mm", ("--pressure", "rear=2.5 bar", *AT_8)),  # not harsh
        ("remaining 12 mm", (*HARSH, *AT_8)),  # little in reserve
        ("remaining 2 mm, at-stop", (*HARSH, *AT_8)),
    ],
)
def test_without_all_that_it_needs_no_click_is_named(
    owner: Owner, reading: str, more: tuple[str, ...]
) -> None:
    case = owner.ride("6 clicks", reading, *more)
    assert case["advice"]["action"] != LESS and "click softer" not in case["said"]


def test_after_the_bumper_damping_is_not_taken_out(owner: Owner) -> None:
    owner.ride("6 clicks", "remaining 2 mm, at-stop", *AT_8)
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH, *AT_8)
    assert "click softer" not in case["said"]


def test_sag_outside_its_window_comes_first(owner: Owner) -> None:
    owner.ride("6 clicks", "remaining 35 mm", *AT_8)
    owner.sag(0.45 * 115)
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH, *AT_8)
    assert case["advice"]["action"] == "more preload" and "click softer" not in case["said"]


def test_counted_from_the_soft_end_it_goes_down(tmp_path: Path) -> None:
    owner = Owner(tmp_path, DAMPED + 'counted_from = "soft"\n')
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH, *AT_8)
    assert "one click softer, from 8 to 7 up from the soft end, then" in case["said"]


def test_without_the_adjuster_the_words_stay(tmp_path: Path) -> None:
    owner = Owner(tmp_path, DAMPED.partition("\n[leg.rear.adjuster.compression]")[0])
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH)
    assert case["advice"]["action"] != LESS
    assert "tyre pressures, damping (less compression first) and stiction" in case["said"]


REBOUND = DAMPED + '\n[leg.rear.adjuster.rebound]\nkind = "turns"\nsteps = "3 turns"\n'
PRESSURE = ("--pressure", "rear=2.5 bar")


def sag_is_right(owner: Owner) -> None:
    owner.ride("6 clicks", "remaining 20 mm", *AT_8, *PRESSURE)
    owner.sag(35)


def test_wallowing_takes_a_quarter_turn_more_rebound(tmp_path: Path) -> None:
    owner = Owner(tmp_path, REBOUND)
    sag_is_right(owner)
    at = ("--setting", "rear.rebound=1.5 turns")
    case = owner.ride("6 clicks", "remaining 20 mm", "--felt", "rear=wallows", *PRESSURE, *at)
    assert case["advice"]["action"] == LESS and case["advice"]["resulting_count"] == 6
    assert "Rear rebound damping: a quarter turn firmer, from 1.5 to 1.25 out, then the same" in case["said"]


def test_wallowing_without_a_rebound_screw_takes_compression(owner: Owner) -> None:
    sag_is_right(owner)
    case = owner.ride("6 clicks", "remaining 20 mm", "--felt", "rear=wallows", *PRESSURE, *AT_8)
    assert "Rear compression damping: one click firmer, from 8 to 7 out, then the same loop." in case["said"]


def test_harsh_with_compression_at_its_soft_end_takes_rebound(tmp_path: Path) -> None:
    owner = Owner(tmp_path, REBOUND)
    at = ("--setting", "rear.compression=20 clicks", "--setting", "rear.rebound=1.5 turns")
    case = owner.ride("6 clicks", "remaining 35 mm", *HARSH, *at)
    assert "Rear rebound damping: a quarter turn softer, from 1.5 to 1.75 out, then the same" in case["said"]


def test_wallowing_is_answered_in_words_and_what_is_missing_is_named(tmp_path: Path) -> None:
    owner = Owner(tmp_path, REBOUND)
    case = owner.ride("6 clicks", "remaining 20 mm", "--felt", "rear=wallows")
    assert "Wallows: rider sag and tyre pressure first, then more rebound damping" in case["said"]
    wanted = "strandline ride amend 1 --setting rear.rebound='1.5 turns' --tyre rear='2.5 bar'"
    assert f"To have a step of damping named: {wanted}." in case["said"]
    owner.place.ok("ride", "amend", "1", "--setting", "rear.rebound=1.5 turns", "--tyre", "rear=2.5 bar")
    assert "step of damping named" not in owner.asked()["said"]


FORK = WEIGHED.replace("[front]\n", '[front]\ntyre_solo = "2.5 bar"\n', 1).replace(
    "[leg.front-right]",
    '[leg.front-left.adjuster.compression]\nkind = "clicks"\nsteps = "20 clicks"\n\n[leg.front-right]',
    1,
)


def test_a_fork_that_dives_takes_a_click_of_compression_on_both_sides(tmp_path: Path) -> None:
    fork = Owner(tmp_path, FORK, end="front")
    right = ("--setting", "front.compression=8 clicks", "--pressure", "front=2.5 bar")
    case = fork.ride("3 turns", "remaining 125 mm", "--felt", "front=dives", *right)
    words = "Front compression damping: one click firmer, both sides alike, from 8 to 7 out, then the same"
    assert words in case["said"] and case["advice"]["resulting_count"] == 3


def test_a_fork_that_dives_without_damping_screws_is_told_what_preload_does(tmp_path: Path) -> None:
    fork = Owner(tmp_path, end="front")
    said = fork.ride("3 turns", "remaining 125 mm", "--felt", "dives")["said"]
    assert "Against dive: one turn more makes the fork stand higher" in said and "dive itself stays" in said


def test_dive_is_of_the_fork_and_no_step_at_the_rear(owner: Owner) -> None:
    said = owner.ride("6 clicks", "remaining 20 mm", "--felt", "dives", *PRESSURE, *AT_8)["said"]
    assert "click firmer" not in said

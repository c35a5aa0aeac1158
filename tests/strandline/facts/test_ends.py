"""What one end of a bike hands to the arithmetic, by numbers that differ between left and right.

Sources: derived statics for parallel springs (rates add) and F = k (d + c); the trade's check values for a shock,
E0 80, b 20, bs 8 -> S 92, and for air, 149.71 N at 120 mm.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.bikes.bike import Bike
from ridelog.bikes.file import parse_bike
from ridelog.names import End, LegName
from strandline.facts.ends import end_facts, hard_stop_mm, preload_adjuster
from suspension.sag.windows import Use, WhichSag
from suspension.springs.springs import ForceTable, LinearSpring

# Left and right differ in every number, so that none can stand for the other.
TEXT = """\
format = 1
name = "Odd pair"
use = "street"

[front]
motion_ratio = 1.0
wheel_travel = "108 mm"

[rear]
motion_ratio = 0.8

[leg.front-left]
layout = "fork"
stroke = "120 mm"
bumper_contact = "105 mm"
marker.width = "3.6 mm"
spring.rate = "9 N/mm"
spring.count = 2
spring.preload_at_soft = "10 mm"
air = {piston_diameter = "41 mm", volume = "300 ml", pressure_absolute = "1.01325 bar"}
adjuster.preload = {kind = "turns", steps = "6 turns", step = "2.0 mm"}

[leg.front-right]
layout = "fork"
stroke = "118 mm"
bumper_contact = "101 mm"
marker.width = "2.5 mm"
spring.rate = "11 N/mm"

[leg.rear-left]
layout = "shock"
extended = "80 mm"
bumper_free = "20 mm"
bumper_crushed = "8 mm"
spring.table = [["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]]
spring.count = 2

[leg.rear-right]
layout = "shock"
has_spring = false
"""


def bike(*changes: tuple[str, str]) -> Bike:
    text = TEXT
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return parse_bike(text, "odd-pair.toml").bike


def test_the_left_leg_comes_first_and_stands_for_the_end() -> None:
    found = end_facts(bike(), End.FRONT)
    assert [leg.name for leg in found.legs] == [LegName.FRONT_LEFT, LegName.FRONT_RIGHT]
    assert (found.hard_stop_mm, found.bumper_met_mm) == (120, 105)
    assert found.preload_at_soft_mm == 10
    rear = end_facts(bike(), End.REAR)
    assert [leg.name for leg in rear.legs] == [LegName.REAR_LEFT, LegName.REAR_RIGHT]


def test_each_leg_keeps_its_own_springs_and_air() -> None:
    """Left: two springs of 9 N/mm side by side are 18 N/mm, with air; right: one of 11 N/mm, without."""
    forces = end_facts(bike(), End.FRONT).forces
    assert forces is not None
    left, right = forces.legs
    assert (left.spring, right.spring) == (LinearSpring(18.0), LinearSpring(11.0))
    assert left.air is not None and left.air.force_n(120.0, 1.0) == pytest.approx(149.71, abs=0.01)
    assert right.air is None
    # F = k (d + c): 18 * (10 + 20) + 11 * (10 + 20) = 870 N, and the air of the left leg.
    own_air = left.air.force_n(20.0)
    assert left.force_n(20.0) + right.force_n(20.0) == pytest.approx(870.0 + own_air)
    assert forces.stroke_mm == 120 and forces.ratio.at(50.0) == pytest.approx(1.0)


def test_a_table_of_two_springs_has_twice_the_force_and_a_leg_without_spring_none() -> None:
    forces = end_facts(bike(), End.REAR).forces
    assert forces is not None
    left, right = forces.legs
    assert left.spring == ForceTable((0.0, 20.0, 60.0), (0.0, 300.0, 1120.0))
    assert right.spring is None and right.preload_mm == 0


def test_an_unknown_spring_or_ratio_leaves_the_forces_open() -> None:
    assert end_facts(bike(('spring.rate = "11 N/mm"\n', "")), End.FRONT).forces is None
    assert end_facts(bike(("motion_ratio = 0.8\n", "")), End.REAR).forces is None


def test_hard_stop_as_stated_or_from_the_bumper() -> None:
    known = bike()
    assert hard_stop_mm(known.leg("front-right")) == 118
    assert hard_stop_mm(known.leg("rear-left")) == 92
    assert hard_stop_mm(known.leg("rear-right")) is None
    rear = end_facts(known, End.REAR)
    assert (rear.hard_stop_mm, rear.bumper_met_mm) == (92, 80)


def test_the_adjuster_is_the_one_of_the_leg_that_has_one() -> None:
    legs = end_facts(bike(), End.FRONT).legs
    own = preload_adjuster(legs)
    assert own is not None and own.range == (0, 6) and preload_adjuster(legs[::-1]) == own
    adjuster = end_facts(bike(), End.FRONT).adjuster
    # 3 turns of 2.0 mm are 6 mm.
    assert adjuster is not None and adjuster.added_mm(3) == pytest.approx(6.0)
    assert end_facts(bike(), End.REAR).adjuster is None


def test_scale_of_a_sag_has_the_ends_own_travel_stroke_and_rate() -> None:
    front = end_facts(bike(), End.FRONT).scale(WhichSag.RIDER, Use.STREET, 20.0)
    assert front.wheel_travel_mm is not None and front.wheel_travel_mm.value == 108
    assert front.stroke_mm is not None and front.stroke_mm.value == 120
    assert front.window is not None and (front.window.low, front.window.high) == (25, 35)
    # Rates add, and the ratio is 1: 18 + 11 N/mm, and what the air adds.
    assert front.wheel_rate_n_per_mm is not None and 29.0 < front.wheel_rate_n_per_mm < 31.0
    rear = end_facts(bike(), End.REAR).scale(WhichSag.RIDER, Use.STREET)
    assert rear.wheel_travel_mm is None and rear.wheel_rate_n_per_mm is None


def test_an_end_without_legs_has_nothing_but_its_side_of_the_bike() -> None:
    text = TEXT[: TEXT.index("[leg.rear-left]")]
    found = end_facts(parse_bike(text, "x.toml").bike, End.REAR)
    assert (found.legs, found.hard_stop_mm, found.bumper_met_mm, found.forces) == ((), None, None, None)


def test_a_hard_stop_needs_all_three_lengths() -> None:
    leg = bike().leg("rear-left")
    assert hard_stop_mm(replace(leg, extended=None)) is None
    assert hard_stop_mm(replace(leg, bumper_free=None)) is None
    assert hard_stop_mm(replace(leg, bumper_crushed=None)) is None


def test_preload_is_that_at_the_soft_end_else_none_and_only_of_springs() -> None:
    """F = k (d + c): without a preload at the soft end 29 N/mm give 290 N at 10 mm, and the air of the left leg."""
    forces = end_facts(bike(('spring.preload_at_soft = "10 mm"\n', "")), End.FRONT).forces
    assert forces is not None and forces.legs[0].air is not None
    its = sum(leg.force_n(10.0) for leg in forces.legs)
    assert its == pytest.approx(290.0 + forces.legs[0].air.force_n(10.0))
    alone = end_facts(bike(('spring.rate = "11 N/mm"\n', "has_spring = false\n")), End.FRONT).forces
    assert alone is not None and [leg.preload_mm for leg in alone.legs] == [10, 0]


@pytest.mark.parametrize("stroke_mm", [0.0, 0.5])
def test_the_rate_of_an_end_that_has_hardly_sunk(stroke_mm: float) -> None:
    """The table's first slope: 2 * 150 N / 20 mm = 15 N/mm; at the wheel 15 * 0.8² = 9.6 N/mm."""
    rear = end_facts(bike(), End.REAR).scale(WhichSag.RIDER, Use.STREET, stroke_mm)
    assert rear.wheel_rate_n_per_mm == pytest.approx(9.6)

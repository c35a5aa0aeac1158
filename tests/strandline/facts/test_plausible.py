"""A slip in each value of a bike's file that the trade has a usual range for: reported, and nothing else is.

Ranges: the trade's common practice, as listed in `suspension.quantities.plausibility`.
"""

from __future__ import annotations

import pytest

from ridelog.bikes.file import parse_bike
from ridelog.names import End
from strandline.facts.plausible import unusual_values

FORK = """\
format = 1
name = "As usual"
use = "street"
[front]
unsprung = "15 kg"
[leg.front-left]
layout = "fork"
shaft = "41 mm"
stroke = "120 mm"
marker.kind = "tie"
marker.width = "3.6 mm"
spring.rate = "9 N/mm"
adjuster.preload = {kind = "turns", steps = "12 turns", step = "1 mm"}
adjuster.rebound = {kind = "clicks", steps = "20 clicks"}
[leg.front-right]
same_as = "front-left"
"""
SHOCK = """\
format = 1
name = "As usual"
use = "street"
[rear]
unsprung = "20 kg"
motion_ratio = 0.5
[leg.rear]
layout = "shock"
shaft = "14 mm"
stroke = "60 mm"
bumper_free = "20 mm"
bumper_crushed = "8 mm"
marker.kind = "o-ring"
marker.width = "2.2 mm"
spring.rate = "100 N/mm"
adjuster.preload = {kind = "positions", positions = ["0 mm", "4 mm", "8 mm"]}
"""


def unusual(text: str, right: str = "", slip: str = "") -> tuple[str, ...]:
    if right:
        assert text.count(right) == 1
        text = text.replace(right, slip)
    return unusual_values(parse_bike(text, "as-usual.toml").bike)


@pytest.mark.parametrize("text", [FORK, SHOCK], ids=["fork", "shock"])
def test_what_is_usual_is_not_reported(text: str) -> None:
    assert unusual(text) == ()


@pytest.mark.parametrize(
    ("text", "right", "slip", "begins"),
    [
        (FORK, '"15 kg"', '"35 kg"', "front.unsprung: The unsprung mass of an end, kg: 35 is"),
        (FORK, '"41 mm"', '"61 mm"', "leg.front-left.shaft: The fork tube's diameter, mm: 61 is"),
        (FORK, '"120 mm"', '"220 mm"', "leg.front-left.stroke: The fork stroke, mm: 220 is"),
        (FORK, '"street"', '"off-road"', "leg.front-left.stroke: The off-road fork stroke, mm: 120 is"),
        (FORK, '"3.6 mm"', '"2.2 mm"', "leg.front-left.marker.width: The tie's width, mm: 2.2 is"),
        (FORK, '"9 N/mm"', '"90 N/mm"', "leg.front-left.spring.rate: The fork spring's rate, N/mm each: 90"),
        (
            FORK,
            '"1 mm"',
            '"0.9 mm"',
            "leg.front-left.adjuster.preload.step: The preload for a turn, mm: 0.9",
        ),
        (
            FORK,
            '"12 turns"',
            '"18 turns"',
            "leg.front-left.adjuster.preload.steps: The preload adjuster's whole",
        ),
        (SHOCK, '"20 kg"', '"5 kg"', "rear.unsprung: The unsprung mass of an end, kg: 5 is"),
        (
            SHOCK,
            "= 0.5",
            "= 1.3",
            "rear.motion_ratio: The linkage's motion ratio, stroke over wheel travel: 1.3",
        ),
        (SHOCK, '"14 mm"', '"41 mm"', "leg.rear.shaft: The shock shaft's diameter, mm: 41 is"),
        (SHOCK, '"60 mm"', '"95 mm"', "leg.rear.stroke: The linkage shock's stroke, mm: 95 is"),
        (SHOCK, '"2.2 mm"', '"4.6 mm"', "leg.rear.marker.width: The O-ring's section, mm: 4.6 is"),
        (SHOCK, '"100 N/mm"', '"20 N/mm"', "leg.rear.spring.rate: The linkage shock spring's rate, N/mm: 20"),
        (SHOCK, '"20 mm"', '"40 mm"', "leg.rear.bumper_free: The bumper's free length, mm: 40 is"),
        (
            SHOCK,
            '"8 mm"\nmarker',
            '"15 mm"\nmarker',
            "leg.rear.bumper_crushed: A crushed bumper of 0.75 of its",
        ),
        (
            SHOCK,
            '"8 mm"]',
            '"18 mm"]',
            "leg.rear.adjuster.preload.positions: The preload between ramp positions",
        ),
    ],
)
def test_a_slip_is_reported_under_its_key(text: str, right: str, slip: str, begins: str) -> None:
    """Once, though both sides of a fork have it."""
    assert unusual(text, right, slip)[0].startswith(begins)
    assert sum(one.startswith(begins.split(":")[0]) for one in unusual(text, right, slip)) == 1


@pytest.mark.parametrize(
    ("text", "given"),
    [
        (FORK, ', step = "1 mm"'),
        (FORK, 'steps = "12 turns", '),
        (FORK, 'marker.width = "3.6 mm"\n'),
        (FORK, 'unsprung = "15 kg"\n'),
        (SHOCK, 'bumper_crushed = "8 mm"\n'),
        (SHOCK, "motion_ratio = 0.5\n"),
    ],
)
def test_what_is_not_known_is_not_unusual(text: str, given: str) -> None:
    assert unusual(text, given, "") == ()


def test_an_end_that_was_not_asked_for_is_left_out() -> None:
    bike = parse_bike(FORK.replace('"15 kg"', '"35 kg"'), "as-usual.toml").bike
    assert unusual_values(bike, End.REAR) == ()
    assert len(unusual_values(bike, End.FRONT)) == 1

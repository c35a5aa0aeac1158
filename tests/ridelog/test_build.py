"""From values read one by one to a bike: each to its own place, and what must hold between them."""

from __future__ import annotations

from typing import Any

import pytest

from ridelog.bikes.amounts import MASS
from ridelog.bikes.build import build_bike, cross_checks, lay_over
from ridelog.bikes.values import Count
from ridelog.names import AdjusterKind, CountedFrom, LegName
from suspension.quantities.declared import Amount, amount, by_rule
from suspension.stroke.leg import Layout
from suspension.stroke.marker import MarkerKind


def mm(value: float) -> Amount:
    return by_rule(f"{value} mm", name="length", allow_zero=True)


def kg(value: float) -> Amount:
    return amount(MASS, f"{value} kg", name="mass")


def values(**leg: Any) -> dict[str, Any]:
    return {"name": "x", "front": {}, "rear": {}, "leg": {"rear": {"layout": Layout.SHOCK, **leg}}}


def test_every_value_goes_to_its_place() -> None:
    found = build_bike(
        {
            "name": "Grey twin",
            "mass": kg(210),
            "total_limit": kg(400),
            "front": {"limit": kg(160), "wheel_load": kg(102)},
            "rear": {"limit": kg(260), "wheel_load": None},
            "leg": {
                "rear-right": {
                    "layout": Layout.SHOCK,
                    "extended": mm(81),
                    "marker": {"kind": MarkerKind.O_RING, "width": mm(2.5), "color": "red"},
                    "spring": {"count": 2, "preload_at_soft": mm(10)},
                    "air": {"volume": None},
                    "adjuster": {
                        "preload": {"kind": AdjusterKind.CLICKS, "steps": Count(15.0, AdjusterKind.CLICKS)},
                        "rebound": {"kind": AdjusterKind.CLICKS},
                    },
                },
                "rear-left": {"layout": Layout.SHOCK, "extended": mm(80)},
            },
        }
    )
    assert found.mass is not None and found.mass.value == 210 and found.total_limit is not None
    assert found.front.limit is not None and found.front.limit.value == 160
    assert found.rear.limit is not None and found.rear.limit.value == 260
    assert found.front.wheel_load is not None and found.rear.wheel_load is None
    left, right = found.legs  # in the order of `LegName`, whatever the file's
    assert (left.name, right.name) == (LegName.REAR_LEFT, LegName.REAR_RIGHT)
    assert left.extended is not None and left.extended.value == 80
    assert right.extended is not None and right.extended.value == 81
    assert right.marker_kind is MarkerKind.O_RING and right.marker_color == "red"
    assert right.spring.count == 2 and left.spring.count == 1
    preload, rebound = right.adjusters
    assert (preload.counted_from, rebound.counted_from) == (CountedFrom.SOFT, CountedFrom.HARD)
    assert preload.steps == 15.0


def test_one_leg_over_another() -> None:
    below = {"layout": 1, "marker": {"kind": "tie", "width": 3}, "stroke": 120}
    above = {"stroke": 118, "marker": {"width": None}, "air": {"volume": 300}}
    assert lay_over(below, above) == {
        "layout": 1,
        "marker": {"kind": "tie", "width": None},
        "stroke": 118,
        "air": {"volume": 300},
    }
    assert below["stroke"] == 120


@pytest.mark.parametrize(
    ("leg", "key", "said"),
    [
        ({"bumper_crushed": mm(8)}, "leg.rear.bumper_crushed", "without the free one"),
        # E0 80, S 70: the stroke would end 10 mm before the bumper is met at E0.
        ({"extended": mm(80), "stroke": mm(70)}, "leg.rear.stroke", "10.0 mm before"),
        ({"extended": mm(80), "bumper_contact": mm(83)}, "leg.rear.bumper_contact", "3.0 mm"),
        ({"stroke": mm(70), "bumper_contact": mm(75)}, "leg.rear.bumper_contact", "after the stroke"),
        ({"layout": Layout.FORK, "bumper_free": mm(20)}, "leg.rear.bumper_free", "inside and not seen"),
        (
            {"layout": Layout.FORK, "extended": mm(100), "stroke": mm(120)},
            "leg.rear.stroke",
            "20.0 mm longer",
        ),
    ],
)
def test_what_does_not_fit_together(leg: dict[str, Any], key: str, said: str) -> None:
    found = {where: what for where, what, _ in cross_checks(build_bike(values(**leg)))}
    assert said in found[key]


@pytest.mark.parametrize(
    "leg",
    [
        {"extended": mm(80), "stroke": mm(92), "bumper_free": mm(20), "bumper_crushed": mm(8)},
        {"extended": mm(80), "bumper_contact": mm(81.9)},
        {"layout": Layout.FORK, "extended": mm(205), "stroke": mm(120), "bumper_contact": mm(105)},
    ],
)
def test_what_fits_is_not_blamed(leg: dict[str, Any]) -> None:
    assert [*cross_checks(build_bike(values(**leg)))] == []


def test_axle_limits_and_total() -> None:
    wrong = {**values(), "total_limit": kg(200), "front": {"limit": kg(201)}, "rear": {"limit": kg(200)}}
    assert [key for key, _, _ in cross_checks(build_bike(wrong))] == ["front.limit"]


def test_adjusters_ranges() -> None:
    clicks, positions = AdjusterKind.CLICKS, AdjusterKind.POSITIONS
    for its, key in (
        ({"kind": clicks, "positions": (mm(0), mm(4))}, "positions"),
        ({"kind": positions, "positions": (mm(0), mm(4)), "steps": 3.0}, "positions"),
        ({"kind": positions, "steps": 1.0}, "steps"),
        ({"kind": clicks, "steps": 15.0, "standard": 16.0}, "standard"),
    ):
        found = [key for key, _, _ in cross_checks(build_bike(values(adjuster={"preload": its})))]
        assert found == [f"leg.rear.adjuster.preload.{key}"]

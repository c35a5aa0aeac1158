"""What a bike's file hands to the arithmetic, against the trade's check values."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.bikes.amounts import PRESSURE
from ridelog.bikes.file import parse_bike
from ridelog.bikes.write import parse_key, set_values
from ridelog.names import Confidence, End
from strandline.facts import bike as facts
from suspension.quantities.declared import amount
from suspension.springs.springs import ForceTable, LinearSpring
from tests.helpers.made_records import BIKE, rear_preload


def bike(**changes: str):  # type: ignore[no-untyped-def]
    text = set_values(
        BIKE, {parse_key(key.replace("__", ".").replace("_left", "-left")): v for key, v in changes.items()}
    )
    return parse_bike(text, "x.toml").bike


def test_motion_ratio() -> None:
    # Derived: a fork at rake e has MR = 1/cos e; at 25 degrees 120 mm of stroke are 108.76 mm at the wheel.
    ratio = facts.motion_ratio(bike(), End.FRONT)
    assert ratio is not None and 120 / ratio.at(0.0) == pytest.approx(108.76, abs=0.005)
    rear = facts.motion_ratio(bike(), End.REAR)
    assert rear is not None and (rear.at(0.0), rear.at(40.0)) == (0.80, 0.74)
    assert facts.motion_ratio(bike(front__rake="don't know"), End.FRONT) is None
    # A rake gives a fork's ratio; that of a shock is not known from it, though the other end has a fork.
    shock = bike(rear__motion_ratio="don't know", rear__rake="25 deg")
    assert facts.motion_ratio(shock, End.REAR) is None


def test_springs() -> None:
    known = bike()
    assert facts.springs(known.leg("front-left")) == (LinearSpring(9.0),)
    assert facts.springs(known.leg("rear")) == ()
    two = bike(leg__rear__spring__rate="20 N/mm", leg__rear__spring__count="2").leg("rear")
    assert facts.springs(two) == (LinearSpring(20.0),) * 2
    table = bike(leg__rear__spring__table='[["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]]').leg(
        "rear"
    )
    assert facts.springs(table) == (ForceTable((0.0, 20.0, 60.0), (0.0, 150.0, 560.0)),)
    assert (
        facts.springs(bike(leg__rear__has_spring="false", leg__rear__spring__rate="20 N/mm").leg("rear"))
        == ()
    )


def test_spring_from_its_dimensions() -> None:
    # k = G d^4/(8 D^3 Na) [handbook], worked by hand: 79000 * 4^4 / (8 * 32^3 * 10) = 7.715 N/mm.
    leg = bike(
        leg__rear__spring__wire="4 mm",
        leg__rear__spring__mean_diameter="32 mm",
        leg__rear__spring__active_coils="10",
        leg__rear__spring__shear_modulus="79 GPa",
    ).leg("rear")
    (spring,) = facts.springs(leg)
    assert isinstance(spring, LinearSpring) and spring.rate == pytest.approx(7.715, abs=0.001)


@pytest.mark.parametrize("missing", ["wire", "mean_diameter", "active_coils", "shear_modulus"])
def test_a_spring_needs_all_of_its_dimensions(missing: str) -> None:
    values = {"wire": "4 mm", "mean_diameter": "32 mm", "active_coils": "10", "shear_modulus": "79 GPa"}
    known = {f"leg__rear__spring__{key}": value for key, value in values.items() if key != missing}
    assert facts.springs(bike(**known).leg("rear")) == ()


def test_air() -> None:
    # The trade's check value: do 41, V0 300000 mm³, c 120, p0 = patm = 101.325 kPa -> 149.71 N slowly.
    leg = bike(
        leg__front_left__air__piston_diameter="41 mm",
        leg__front_left__air__volume="300 ml",
        leg__front_left__air__pressure_absolute="1.01325 bar",
    ).leg("front-left")
    chamber = facts.air(leg)
    assert chamber is not None and chamber.force_n(120.0, 1.0) == pytest.approx(149.71, abs=0.01)
    assert facts.air(bike().leg("rear")) is None
    # Twice the atmosphere's pressure at full extension: 101.325 kPa over pi 41²/4 mm², by hand.
    doubled = replace(leg.air, pressure_absolute=amount(PRESSURE, "2.0265 bar", name="pressure"))
    chamber = facts.air(replace(leg, air=doubled))
    assert chamber is not None and chamber.force_n(0.0, 1.0) == pytest.approx(133.77, abs=0.01)


@pytest.mark.parametrize("missing", ["piston_diameter", "volume", "pressure_absolute"])
def test_air_needs_all_three_of_its_values(missing: str) -> None:
    values = {"piston_diameter": "41 mm", "volume": "300 ml", "pressure_absolute": "1.01325 bar"}
    known = {f"leg__rear__air__{key}": value for key, value in values.items() if key != missing}
    assert facts.air(bike(**known).leg("rear")) is None


def test_plate_and_count() -> None:
    plate = facts.plate(bike())
    assert (plate.total_kg, plate.front_kg, plate.rear_kg) == (400, 160, 260)
    for key, name in (("total_limit", "total_kg"), ("front__limit", "front_kg"), ("rear__limit", "rear_kg")):
        assert getattr(facts.plate(bike(**{key: "don't know"})), name) is None
    known = facts.count(rear_preload(4))
    assert known.is_sure and known.value == 4
    assert not facts.count(rear_preload(None, Confidence.UNKNOWN)).is_sure

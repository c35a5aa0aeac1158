"""What a load case puts on the axles, by known numbers.

Sources: the moment balance of a college exercise, recomputed with g = 9.80665 m/s²; NIST SP 811 (2008), B.8:
1 lb = 0.45359237 kg.
"""

from __future__ import annotations

import pytest

from ridelog.bikes.bike import Bike
from ridelog.bikes.file import parse_bike
from ridelog.names import End
from ridelog.storage.records import AxleLoad, Load, LoadCase, LoadItem
from strandline.facts.loads import bare_loads, kilograms, loads_of
from suspension.loads.loads import GRAVITY_M_PER_S2
from suspension.quantities.quantity import Quantity
from tests.helpers.made_records import BIKE, TYPED


def bike(front: str = "", rear: str = "", mass: str = "250 kg", wheelbase: str = "1400 mm") -> Bike:
    text = BIKE.replace('mass = "210 kg"', f'mass = "{mass}"').replace("1460 mm", wheelbase)
    text = text.replace("[front]\n", f"[front]\n{front}\n").replace("[rear]\n", f"[rear]\n{rear}\n")
    return parse_bike(text, "x.toml").bike


def kg(bike: Bike) -> tuple[float, float]:
    axles = bare_loads(bike)
    assert axles is not None
    return kilograms(axles.front_n).value, kilograms(axles.rear_n).value


def test_both_wheels_weighed() -> None:
    weighed = bike('wheel_load = "118 kg"', 'wheel_load = "132 kg ± 2 kg"')
    assert kg(weighed) == pytest.approx((118, 132))
    axles = bare_loads(weighed)
    assert axles is not None and axles.rear_n.sigma == pytest.approx(GRAVITY_M_PER_S2)  # half of 2 kg


@pytest.mark.parametrize("rear", ["132 kg", "291.01 lb"])
def test_the_mass_and_one_wheel_give_the_other(rear: str) -> None:
    """132 kg are 291.01 lb: the missing wheel carries 250 - 132 = 118 kg whatever unit the other was typed in."""
    assert kg(bike(rear=f'wheel_load = "{rear}"')) == pytest.approx((118.0, 132.0), abs=0.01)
    assert kg(bike(f'wheel_load = "{rear}"')) == pytest.approx((132.0, 118.0), abs=0.01)


def test_the_missing_wheel_has_the_uncertainty_of_both() -> None:
    # JCGM 100, 5.1.2: sqrt(3² + 4²) = 5 for independent weighings.
    axles = bare_loads(bike(rear='wheel_load = "132 kg ± 4 kg"', mass="250 kg ± 3 kg"))
    assert axles is not None and kilograms(axles.front_n).u95 == pytest.approx(5.0)


def test_the_mass_alone_says_nothing_of_the_wheels() -> None:
    assert bare_loads(bike()) is None


def test_a_rider_by_moments() -> None:
    """Bike 250 kg at the middle of 1.4 m, rider 80 kg at 1.0 m: 147.857 kg in front, 182.143 kg behind."""
    rider = LoadItem(Load.RIDER, TYPED, Quantity(80.0, 0.0), Quantity(1000.0, 0.0))
    weighed = bike('wheel_load = "125 kg"', 'wheel_load = "125 kg"')
    found = loads_of(weighed, "solo", LoadCase("solo", TYPED, (rider,)))
    front, rear = found.axle_n(End.FRONT), found.axle_n(End.REAR)
    assert front is not None and front.value == pytest.approx(1449 / 9.8 * GRAVITY_M_PER_S2, rel=1e-4)
    assert rear is not None and rear.value == pytest.approx(1785 / 9.8 * GRAVITY_M_PER_S2, rel=1e-4)


def test_scales_carry_their_axle_and_uncertainty() -> None:
    scales = (
        AxleLoad(End.FRONT, Quantity(118.0, 0.5), TYPED),
        AxleLoad(End.REAR, Quantity(170.0, 1.5), TYPED),
    )
    found = loads_of(bike(), "solo", LoadCase("solo", TYPED, (), scales))
    front, rear = found.axle_n(End.FRONT), found.axle_n(End.REAR)
    assert front is not None and kilograms(front).value == pytest.approx(118)
    assert rear is not None and kilograms(rear).u95 == pytest.approx(3.0)

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
from strandline.facts.loads import THE_BIKE, CaseLoads, bare_loads, item_name, kilograms, loads_of
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
    # JCGM 100, 5.1.2: sqrt(6² + 8²) = 10 for independent weighings.
    axles = bare_loads(bike(rear='wheel_load = "132 kg ± 6 kg"', mass="250 kg ± 8 kg"))
    assert axles is not None and kilograms(axles.front_n).u95 == pytest.approx(10.0)


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


def solo(*items: LoadItem, scales: tuple[AxleLoad, ...] = ()) -> LoadCase:
    return LoadCase("solo", TYPED, items, scales)


def item(what: Load, mass: float | None, aft: float | None, label: str | None = None) -> LoadItem:
    mass_kg, aft_mm = (None if one is None else Quantity(one, 0.0) for one in (mass, aft))
    return LoadItem(what, TYPED, mass_kg, aft_mm, label)


RIDER = item(Load.RIDER, 80.0, 1000.0)
WEIGHED_BIKE = ('wheel_load = "125 kg"', 'wheel_load = "125 kg"')
SCALES = (
    AxleLoad(End.FRONT, Quantity(118.0, 1.5), TYPED),
    AxleLoad(End.REAR, Quantity(170.0, 1.5), TYPED),
)


def checked_kg(found: CaseLoads) -> list[float | None]:
    return [None if one.load_kg is None else round(one.load_kg.value, 6) for one in found.checks]


def test_a_case_keeps_its_name_and_checks_what_the_scales_show() -> None:
    """118 and 170 kg are 288 kg in all; the plate has 160, 260 and 400 kg."""
    case = solo(scales=SCALES)
    found = loads_of(bike(), "solo", case)
    assert (found.name, found.case) == ("solo", case)
    assert checked_kg(found) == [288, 118, 170]
    assert [one.limit_kg for one in found.checks] == [400, 160, 260]
    assert found.missing == ("What is carried is not known.",)


def test_the_sprung_load_is_the_own_axles_less_its_own_unsprung_mass() -> None:
    """(118 - 15) g and (170 - 20) g; u = sqrt(1.5² + 2²) = 2.5 kg behind (JCGM 100, 5.1.2)."""
    known = bike('unsprung = "15 kg"', 'unsprung = "20 kg ± 4 kg"')
    found = loads_of(known, "solo", solo(scales=SCALES))
    front, rear = found.sprung_n(known, End.FRONT), found.sprung_n(known, End.REAR)
    assert front is not None and front.value == pytest.approx(103 * GRAVITY_M_PER_S2)
    assert rear is not None and rear.value == pytest.approx(150 * GRAVITY_M_PER_S2)
    assert rear.sigma == pytest.approx(2.5 * GRAVITY_M_PER_S2)
    assert found.sprung_n(bike(), End.REAR) is None
    assert loads_of(known, "solo", None).sprung_n(known, End.REAR) is None


def test_the_total_is_checked_where_places_are_not_known() -> None:
    """250 + 80 + 12 = 342 kg wherever they sit; of the axles nothing is known."""
    bag = item(Load.LUGGAGE, 12.0, None, "tail bag")
    found = loads_of(bike(), "solo", solo(RIDER, bag))
    assert found.axles is None and checked_kg(found) == [342, None, None]
    # 4 kg and 3 kg are 5 kg together, of places nothing comes in (JCGM 100, 5.1.2).
    vague = LoadItem(Load.RIDER, TYPED, Quantity(80.0, 1.5), None)
    (total, _, _) = loads_of(bike(mass="250 kg ± 4 kg"), "solo", solo(vague)).checks
    assert total.load_kg is not None and total.load_kg.u95 == pytest.approx(5.0)


def test_the_bike_counts_once_in_the_total() -> None:
    """As an item of 230 kg it stands for the 250 kg of its file: 230 + 80 = 310 kg."""
    whole = item(Load.OTHER, 230.0, None, THE_BIKE)
    assert checked_kg(loads_of(bike(), "solo", solo(RIDER, whole))) == [310, None, None]


def test_a_total_of_which_a_mass_is_missing_is_not_checked() -> None:
    bag = item(Load.LUGGAGE, None, None)
    no_mass = parse_bike(BIKE.replace('mass = "210 kg"\n', ""), "x.toml").bike
    assert checked_kg(loads_of(bike(), "solo", solo(RIDER, bag))) == [None, None, None]
    assert checked_kg(loads_of(no_mass, "solo", solo(RIDER))) == [None, None, None]
    assert checked_kg(loads_of(bike(), "solo", solo())) == [None, None, None]
    assert checked_kg(loads_of(bike(), "solo", None)) == [None, None, None]
    assert bare_loads(no_mass) is None


def test_one_wheel_without_the_mass_says_nothing_of_the_other() -> None:
    text = BIKE.replace('mass = "210 kg"\n', "").replace("[rear]\n", '[rear]\nwheel_load = "132 kg"\n')
    assert bare_loads(parse_bike(text, "x.toml").bike) is None


def test_the_bike_as_an_item_by_moments_as_in_the_exercise() -> None:
    """Bike 250 kg at 0.7 of 1.4 m as an item, rider 80 kg at 1.0 m: 147.857 kg in front, 182.143 kg behind."""
    whole = item(Load.OTHER, 250.0, 700.0, THE_BIKE)
    found = loads_of(bike(), "solo", solo(RIDER, whole))
    assert checked_kg(found) == pytest.approx([330, 147.857143, 182.142857])
    assert found.missing == ()
    # Where the wheels were weighed, the item is left out: 125 + 22.857 and 125 + 57.143 kg.
    lighter = item(Load.OTHER, 200.0, 700.0, THE_BIKE)
    weighed = loads_of(bike(*WEIGHED_BIKE), "solo", solo(RIDER, lighter))
    assert checked_kg(weighed) == pytest.approx([330, 147.857143, 182.142857])


def test_what_is_missing_for_the_axles_is_said() -> None:
    items = (item(Load.LUGGAGE, 12.0, None, "tail bag"), item(Load.OTHER, None, 300.0, "spare tank"))
    found = loads_of(bike(), "solo", solo(*items))
    assert found.axles is None and found.missing == (
        "Luggage (tail bag): where it sits is not known.",
        "Spare tank: its mass is not known.",
        "The bare bike's wheel loads are not known, nor where its own weight acts.",
    )


def test_items_by_their_names() -> None:
    named = [item(what, 1.0, 1.0, label) for what in (Load.RIDER, Load.OTHER) for label in (None, "tall one")]
    assert [item_name(one) for one in named] == ["rider", "rider (tall one)", "other", "tall one"]


def test_what_sits_behind_the_rear_axle_is_named() -> None:
    back = (item(Load.LUGGAGE, 5.0, 1500.0, "top box"), item(Load.OTHER, 5.0, 1500.0, "spare tank"))
    found = loads_of(bike(*WEIGHED_BIKE), "solo", solo(*back))
    assert found.axles is not None
    assert [one.split(" sits")[0] for one in found.axles.remarks] == ["The luggage (top box)", "Spare tank"]

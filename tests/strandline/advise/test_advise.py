"""``strandline advise``: the rules of the trade on what a logbook holds, and predictions marked as such.

The rules are common practice with no source; each expectation is worked out by hand beside its check.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from strandline.shared.options import ENDS
from suspension.sag.windows import End
from tests.helpers.made_bikes import BIKE, Garage

# Both wheels weighed, springs and all that the physics needs at the rear: MR 0.8, k 20 N/mm.
WEIGHED = BIKE.replace(
    "[leg.front-left]",
    'wheelbase = "1400 mm"\ntotal_limit = "400 kg"\n\n[front]\nwheel_load = "100 kg"\nlimit = "160 kg"\n\n'
    '[rear]\nwheel_load = "100 kg"\nlimit = "240 kg"\nmotion_ratio = 0.8\nwheel_travel = "115 mm"\n'
    'unsprung = "18 kg"\n\n[leg.front-left]',
    1,
).replace(
    "[leg.rear.adjuster",
    '[leg.rear.spring]\nrate = "40 N/mm"\npreload_at_soft = "8 mm"\n\n[leg.rear.adjuster',
)


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


@pytest.fixture
def weighed(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "weighed", WEIGHED)


def ride(place: Garage, day: int, count: str, reading: str, *more: str, load: str = "solo") -> None:
    place.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", f"2026-05-{day:02d}", "--route", "Loop"),
        *("--load", load, "--setting", f"rear={count}", "--reading", f"rear={reading}", *more),
    )


def rear(place: Garage, load: str = "solo") -> dict[str, Any]:
    (end,) = place.json("advise", "--bike", "grey-twin", "--end", "rear")["ends"]
    return next(case for case in end["cases"] if case["load"] == load)


def test_words_of_the_options_are_the_rooms_own() -> None:
    assert list(ENDS) == [end.value for end in End]


def test_a_ride_whose_reading_tells_no_used_stroke_is_not_called_unridden(tmp_path: Path) -> None:
    place = Garage(tmp_path / "bare", BIKE.replace('extended = "80 mm"\n', ""))
    ride(place, 1, "6 clicks", "remaining 15 mm", "--state", "on-wheels")
    said = place.ok("advise", "--bike", "grey-twin", "--end", "rear")
    assert "do not give the stroke used yet" in said and "E0" in said
    assert "No load was ridden" not in said


def test_a_marker_at_the_bumper_earns_two_clicks_and_no_forecast(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 2.5 mm, at-stop")
    case = rear(garage)
    # E0 80, w 2.5: at least Sb - w = 77.5; two clicks more, 6 + 2 = 8.
    assert case["used_mm"]["bound"] == "at least" and case["used_mm"]["value"] == pytest.approx(77.5)
    advice = case["advice"]
    assert (advice["action"], advice["steps"], advice["resulting_count"]) == ("more preload", 2, 8)
    assert advice["expected_mm"] is None
    said = garage.ok("advise", "--bike", "grey-twin")
    assert "Rear preload: 2 clicks more, to 8 clicks up from the soft end." in said
    assert "bottoming cannot be excluded" in said and "Expect:" not in said
    # cautions of a change, and not those of a load within its limits
    assert "come off its thread" in said and "headlamp" in said and "stop riding" in said


def test_no_forecast_after_the_bumper_however_much_is_known(weighed: Garage) -> None:
    weighed.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "80 kg at 700 mm")
    ride(weighed, 1, "6 clicks", "remaining 12 mm")
    assert rear(weighed)["next_ride"]["mean_mm"] is not None
    ride(weighed, 2, "6 clicks", "remaining 2 mm, at-stop")
    assert rear(weighed)["next_ride"] is None
    assert "Expect:" not in weighed.ok("advise", "--bike", "grey-twin", "--load", "solo")


@pytest.mark.parametrize("felt", [(), ("--felt", "dives")])
def test_one_quiet_ride_never_earns_less_preload(garage: Garage, felt: tuple[str, ...]) -> None:
    ride(garage, 1, "6 clicks", "remaining 40 mm", *felt)
    case = rear(garage)
    assert case["used_mm"]["value"] == pytest.approx(40) and case["advice"]["bands"] == ["plenty in reserve"]
    assert case["advice"]["steps"] == 0 and case["advice"]["resulting_count"] == 6
    assert case["setting"]["count"] == 6 and case["cautions"] == []
    assert "quiet ride is not enough reason" in garage.ok("advise", "--bike", "grey-twin")


def test_harshness_earns_one_click_less(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 40 mm", "--felt", "harsh")
    assert (rear(garage)["advice"]["steps"], rear(garage)["advice"]["resulting_count"]) == (-1, 5)


def test_two_runs_in_the_window_are_enough_at_one_count_and_route(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 12 mm")  # 68 of 80: 85 %
    assert rear(garage)["advice"]["stop"] is None
    ride(garage, 2, "7 clicks", "remaining 13 mm")
    assert rear(garage)["advice"]["stop"] is None  # at another count
    ride(garage, 3, "7 clicks", "remaining 12 mm")
    case = rear(garage)
    assert case["advice"]["stop"].startswith("2 runs in the window") and case["runs"] == 3
    # 70.4 = min(0.88 x 80, 80 - 2.5 - 3)
    assert case["advice"]["target_mm"] == pytest.approx(70.4)
    assert case["next_ride"]["low_mm"] < 68 < case["next_ride"]["high_mm"]


def test_runs_over_another_route_do_not_count(garage: Garage) -> None:
    """Two runs in the window find a setting only over one route, and predictions rest on that route alone."""
    for day, route in ((1, "Loop"), (2, "Motorway"), (3, "Loop")):
        ride(garage, day, "6 clicks", "remaining 12 mm", "--route", route)
        assert rear(garage)["advice"]["stop"] is None, route
    assert rear(garage)["next_ride"]["runs"] == 2  # of the three, those over the loop
    ride(garage, 4, "6 clicks", "remaining 12 mm")
    assert rear(garage)["advice"]["stop"] is not None


def test_runs_at_a_count_in_doubt_find_nothing(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 12 mm")
    ride(garage, 2, "6 clicks?", "remaining 12 mm")
    assert rear(garage)["advice"]["stop"] is None and rear(garage)["advice"]["recount_first"]


def test_a_count_in_doubt_is_counted_again_first(garage: Garage) -> None:
    ride(garage, 1, "6 clicks?", "remaining 2 mm, at-stop")
    case = rear(garage)
    assert case["advice"]["recount_first"] and case["advice"]["resulting_count"] is None
    said = garage.ok("advise", "--bike", "grey-twin")
    assert (
        "Back the adjuster off gently towards soft" in said and "count again from the soft end first" in said
    )


def test_sides_that_were_set_differently_are_a_count_in_doubt(garage: Garage) -> None:
    garage.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--load", "solo"),
        *("--setting", "front-left=2 turns", "--setting", "front-right=3 turns"),
        *("--reading", "front-left=remaining 100 mm", "--reading", "front-right=remaining 110 mm"),
    )
    (end,) = garage.json("advise", "--bike", "grey-twin", "--end", "front")["ends"]
    (case,) = end["cases"]
    assert case["advice"]["recount_first"] and any("set differently" in line for line in case["remarks"])
    # the deeper leg counts: 205 - 100 = 105 and not 95; 10 mm apart is far over 2 sqrt(2) u
    assert case["used_mm"]["value"] == pytest.approx(105)
    assert any("two legs differ" in line for line in case["advice"]["remarks"])


def test_an_overload_is_reduced_and_not_adjusted(weighed: Garage) -> None:
    weighed.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "180 kg at 1200 mm")
    ride(weighed, 1, "6 clicks", "remaining 2 mm, at-stop")
    case = rear(weighed)
    # 100 + 180 x 1200/1400 = 254 kg on 240 kg
    assert case["load_verdict"] == "over its limit" and case["advice"]["action"] == "reduce the load"
    assert case["advice"]["steps"] == 0 and case["setting"] is None
    assert any("never raises a load rating" in line for line in case["cautions"])


def test_a_load_never_ridden_is_predicted_from_one_that_was(weighed: Garage) -> None:
    weighed.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "80 kg at 700 mm")
    weighed.ok(
        "loads",
        "--bike",
        "grey-twin",
        "--load",
        "bags",
        "--rider",
        "80 kg at 700 mm",
        "--luggage",
        "14 kg at 1400 mm",
    )
    heavy = ("--rider", "80 kg at 700 mm", "--passenger", "150 kg at 1300 mm")
    weighed.ok("loads", "--bike", "grey-twin", "--load", "too much", *heavy)
    ride(weighed, 1, "6 clicks", "remaining 12 mm")
    case = rear(weighed, "bags")
    # Derived statics: 14 kg x 9.80665 on the rear alone; dW/(n k MR p) = 137.29/(1 x 40 x 0.8 x 1.0) = 4.29 clicks,
    # lam 2.5 times as much at the upper end; the count to the firmer side.
    steps = 14 * 9.80665 / (40 * 0.8)
    assert not case["ridden"] and case["predicted_from"] == "solo"
    assert case["setting"]["count"] == math.ceil(6 + steps) == 11
    assert case["setting"]["low"] == pytest.approx(6 + steps, abs=1e-6) and case["setting"]["high"] == 15
    assert case["advice"] is None
    assert rear(weighed, "too much")["setting"] is None
    said = weighed.ok("advise", "--bike", "grey-twin", "--load", "bags")
    assert "Rear, bags: predicted, not ridden yet" in said and "solo (ride" not in said


def test_sag_counts_only_at_the_preload_that_it_was_measured_at(weighed: Garage) -> None:
    sag = ("sag", "--bike", "grey-twin", "--load", "solo", "--date", "2026-05-01")
    weighed.ok(*sag, "--length", "rear=hanging 640 mm, rider-aboard 604 mm / 608 mm")  # 34 of 115 mm: 29.6 %
    ride(weighed, 2, "6 clicks", "remaining 2 mm, at-stop", "--felt", "bottomed")
    # Bottomed with its sag in the window: not a matter of preload.
    assert rear(weighed)["advice"]["action"] == "have spring and oil level reviewed"
    ride(weighed, 3, "7 clicks", "remaining 2 mm, at-stop", "--felt", "bottomed")
    case = rear(weighed)
    assert case["advice"]["steps"] == 2 and any("at another preload" in line for line in case["remarks"])


def test_dive_is_told_with_what_it_costs(garage: Garage) -> None:
    garage.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--setting", "front=2 turns"),
        *("--reading", "front-left=remaining 105 mm", "--felt", "dives"),
    )
    said = garage.ok("advise", "--bike", "grey-twin")
    assert "Against dive: one turn more" in said and "takes as much off its sag" in said
    assert "Front, load not stated" in said


def test_inches_and_pounds_throughout(weighed: Garage) -> None:
    weighed.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "180 kg at 1200 mm")
    ride(weighed, 1, "6 clicks", "remaining 12 mm")
    said = weighed.ok("advise", "--bike", "grey-twin", "--units", "in")
    assert "2.677 ± " in said  # 68 mm
    assert not {"mm", "kg"} & set(said.replace(".", " ").replace(",", " ").replace(":", " ").split())


def test_nothing_to_go_by_is_told(garage: Garage) -> None:
    assert str(garage.logbook) in garage.refused("advise", "--bike", "grey-twin")
    ride(garage, 1, "6 clicks", "remaining 12 mm")
    said = garage.refused("advise", "--bike", "grey-twin", "--load", "two-up")
    assert "no reading to advise on for the load two-up" in said and "solo" in said

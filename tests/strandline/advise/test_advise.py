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
from tests.helpers.made_bikes import BIKE, WEIGHED, Garage


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
    said = " ".join(place.ok("advise", "--bike", "grey-twin", "--end", "rear").split())
    assert "do not give the stroke used yet" in said and "hanging length" in said


def test_a_marker_at_the_bumper_earns_at_least_one_click(garage: Garage) -> None:
    ride(garage, 1, "6 clicks", "remaining 2.5 mm, at-stop")
    case = rear(garage)
    # E0 80, w 2.5: at least Sb - w = 77.5; no count is safe yet, so two clicks at once: 6 + 2 = 8.
    assert case["used_mm"]["bound"] == "at least" and case["used_mm"]["value"] == pytest.approx(77.5)
    advice = case["advice"]
    assert (advice["action"], advice["steps"], advice["resulting_count"]) == ("more preload", 2, 8)
    assert case["next_ride"] is None  # no ride gave a length yet
    said = " ".join(garage.ok("advise", "--bike", "grey-twin", "--explain").split())
    assert "Do: Rear preload: 2 clicks more, to 8 clicks up from the soft end." in said
    assert "bottoming cannot be excluded" in said and "next ride" not in said
    # cautions of a change
    assert "come off its thread" in said and "headlamp" in said and "stop riding" in said


@pytest.mark.parametrize("felt", [(), ("--felt", "dives"), ("--felt", "harsh")])
def test_one_quiet_ride_never_earns_less_preload(garage: Garage, felt: tuple[str, ...]) -> None:
    ride(garage, 1, "6 clicks", "remaining 40 mm", *felt)
    case = rear(garage)
    assert case["used_mm"]["value"] == pytest.approx(40) and case["advice"]["bands"] == ["plenty in reserve"]
    assert case["advice"]["steps"] == 0 and case["advice"]["resulting_count"] == 6
    assert case["setting"]["found"] is None and case["cautions"] == []
    assert "One quiet ride is not enough reason to reduce preload" in " ".join(
        garage.ok("advise", "--bike", "grey-twin").split()
    )


def test_an_interval_is_stated_from_three_rides_on(garage: Garage) -> None:
    for day, left in ((1, 22), (2, 24)):
        ride(garage, day, "6 clicks", f"remaining {left} mm")
        assert rear(garage)["next_ride"]["mostly_prior"]
        said = " ".join(garage.ok("advise", "--bike", "grey-twin").split())
        assert "rough estimate" in said and "9 times in 10" not in said
    ride(garage, 3, "6 clicks", "remaining 23 mm")
    expected = rear(garage)["next_ride"]
    assert not expected["mostly_prior"] and expected["low_mm"] < 57 < expected["high_mm"]
    assert "9 times in 10, by 3 rides" in " ".join(garage.ok("advise", "--bike", "grey-twin").split())


def test_rides_over_another_route_do_not_count_as_this_one(garage: Garage) -> None:
    for day, route in ((1, "Loop"), (2, "Motorway"), (3, " loop ")):
        ride(garage, day, "6 clicks", "remaining 20 mm", "--route", route)
    assert rear(garage)["next_ride"]["runs"] == 2  # case and spaces of a route's name do not matter
    assert any("1 more ride over Loop" in line for line in rear(garage)["advice"]["missing"])


def test_rides_at_a_count_in_doubt_find_nothing(garage: Garage) -> None:
    for day in (1, 2, 3):
        ride(garage, day, "6 clicks?" if day == 3 else "6 clicks", "remaining 30 mm")
    case = rear(garage)
    assert case["advice"]["action"] == "ride again" and case["advice"]["recount_first"]
    assert any("count is in doubt" in line for line in case["advice"]["missing"])


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
    assert any("two legs differ" in line for line in case["advice"]["missing"])
    assert case["advice"]["resulting_count"] is not None


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
    # Derived statics: 14 kg x 9.80665 on the rear alone; dW/(n k MR p) = 137.29/(1 x 40 x 0.8 x 1.0) = 4.29 clicks;
    # the count to the firmer side, from the one that solo is to be ridden at next.
    base = rear(weighed)["advice"]["resulting_count"]
    assert not case["ridden"] and case["predicted_from"] == "solo"
    assert case["setting"]["found"] is None
    assert case["setting"]["try"] == math.ceil(base + 14 * 9.80665 / (40 * 0.8))
    assert case["advice"]["action"] == "start at"
    assert rear(weighed, "too much")["setting"] is None
    said = weighed.ok("advise", "--bike", "grey-twin", "--load", "bags")
    assert "Rear, bags: not ridden yet" in said and "solo (ride" not in said


def test_dive_is_told_with_what_it_costs(garage: Garage) -> None:
    garage.ok(
        *("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01", "--setting", "front=2 turns"),
        *("--reading", "front-left=remaining 105 mm", "--felt", "dives"),
    )
    said = " ".join(garage.ok("advise", "--bike", "grey-twin").split())
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


def test_fifteen_lines_an_end_and_eighty_columns(weighed: Garage) -> None:
    """What to do first, then how sure, then why, then notes; the rest with --explain."""
    rider = ("--rider", "80 kg at 700 mm")
    for name in ("solo", "bags", "two-up", "two-up and bags", "empty", "full"):
        weighed.ok("loads", "--bike", "grey-twin", "--load", name, *rider)
    for day in range(1, 5):
        ride(weighed, day, "6 clicks?", "remaining 2 mm, at-stop", "--felt", "harsh", "--felt", "bottomed")
    said = weighed.ok("advise", "--bike", "grey-twin", "--end", "rear")
    lines = said.split("\n")
    assert max(map(len, lines)) <= 80 and lines.index("") <= 15
    assert said.count("Take care") == 1
    firsts = [
        word for line in lines if (word := line.strip().split(":")[0]) in ("Do", "How sure", "Why", "Note")
    ]
    assert firsts == sorted(firsts, key=["Do", "How sure", "Why", "Note"].index)
    assert len(weighed.ok("advise", "--bike", "grey-twin", "--end", "rear", "--explain")) > len(said)
    for name in ("E0", "Sb", " S "):
        assert name not in said


def test_before_any_ride_sag_comes_first(weighed: Garage) -> None:
    weighed.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rider", "80 kg at 700 mm")
    said = " ".join(weighed.ok("advise", "--bike", "grey-twin").split())
    # Front: no spring in the file, so nothing but sag; rear: the statics give a count to start at.
    assert "Measure rider sag (strandline sag)" in said
    case = rear(weighed)
    # Ws (100 + 40 - 18) x 9.80665 = 1196.4 N; u = Ws/(k MR) - 8 = 29.4 mm of 92: 32 %; the middle, 30 %, 27.6 mm.
    assert case["advice"]["action"] == "start at" and case["advice"]["resulting_count"] == 2

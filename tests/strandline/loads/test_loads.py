"""``strandline loads``: axle loads by scales and by moments, against the plate."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import BIKE, Garage

HEAD, LEGS = BIKE.split("[leg.front-left]", 1)
# A college exercise in statics (recomputed): bike 250 kg at the middle of L 1.4 m.
EXERCISE = f"""{HEAD}wheelbase = "1400 mm"
mass = "250 kg ± 0.2 kg"
[leg.front-left]{LEGS}"""


def with_plate(total: str, front: str, rear: str) -> str:
    return EXERCISE.replace(
        "[leg.front-left]", f'[front]\nlimit = "{front}"\n[rear]\nlimit = "{rear}"\n[leg.front-left]', 1
    ).replace("mass =", f'total_limit = "{total}"\nmass =', 1)


def garage(folder: Path, bike: str = EXERCISE) -> Garage:
    return Garage(folder / "garage", bike)


MIDDLE = ("loads", "--bike", "grey-twin", "--bike-centre", "700 mm ± 0.1 mm")
RIDER = ("--rider", "80 kg ± 0.2 kg at 1000 mm ± 0.1 mm")


def test_moments_give_the_exercise(tmp_path: Path) -> None:
    # The exercise's answers, N at g 9.8: 1225 and 1225 alone, 1449 and 1785 with a rider of 80 kg at 1.0 m.
    found = garage(tmp_path).json(*MIDDLE, *RIDER)["loads"][0]
    assert found["axles_kg"]["front"]["value"] * 9.8 == pytest.approx(1449, abs=0.5)
    assert found["axles_kg"]["rear"]["value"] * 9.8 == pytest.approx(1785, abs=0.5)
    assert found["source"] == "moments" and found["kept"] is False
    alone = garage(tmp_path / "b").json(*MIDDLE)["loads"][0]
    assert [alone["axles_kg"][end]["value"] * 9.8 for end in ("front", "rear")] == pytest.approx([1225, 1225])


def test_without_a_plate_nothing_is_called_right(tmp_path: Path) -> None:
    said = garage(tmp_path).ok(*MIDDLE, *RIDER)
    assert said.count("load not checked") == 3
    assert "OK" not in said and "within" not in said.split("Total and each axle")[0]


@pytest.mark.parametrize(
    ("plate", "verdicts"),
    [
        (("400 kg", "160 kg", "200 kg"), ["within its limit"] * 3),
        (("400 kg", "160 kg", "180 kg"), ["within its limit", "within its limit", "over its limit"]),
        (
            ("330 kg", "160 kg", "200 kg"),
            ["at its limit, within the uncertainty", "within its limit", "within its limit"],
        ),
    ],
)
def test_each_axle_and_the_total_against_the_plate(
    tmp_path: Path, plate: tuple[str, str, str], verdicts: list[str]
) -> None:
    found = garage(tmp_path, with_plate(*plate)).json(*MIDDLE, *RIDER)["loads"][0]
    assert [check["verdict"] for check in found["checks"]] == verdicts
    assert bool(found["cautions"]) == (verdicts != ["within its limit"] * 3)


def test_scales_come_before_an_estimate_and_tell_where_they_differ(tmp_path: Path) -> None:
    scales = ("--scales", "front=160 kg", "--scales", "rear=170 kg")
    found = garage(tmp_path).json(*MIDDLE, *RIDER, *scales)["loads"][0]
    assert found["source"] == "scales"
    assert (found["axles_kg"]["front"]["value"], found["axles_kg"]["rear"]["value"]) == pytest.approx(
        (160, 170)
    )
    # 1449/9.8 = 147.9 kg by moments: the scales show 12 kg more
    assert any("12 kg more" in remark for remark in found["remarks"])


def test_where_a_thing_sits_is_not_made_up_but_the_total_holds(tmp_path: Path) -> None:
    bike = with_plate("320 kg", "160 kg", "200 kg")
    found = garage(tmp_path, bike).json("loads", "--bike", "grey-twin", "--rider", "80 kg")["loads"][0]
    assert [check["verdict"] for check in found["checks"]] == [
        "over its limit",
        "load not checked",
        "load not checked",
    ]
    assert any("where it sits is not known" in line for line in found["missing"])
    unknown = garage(tmp_path / "b", bike).json("loads", "--bike", "grey-twin", "--rider", "80 kg at ?")
    assert unknown["loads"][0]["axles_kg"] == {}


def test_a_named_load_is_kept_and_replaced(tmp_path: Path) -> None:
    bikes = garage(tmp_path)
    assert "has no load of this bike" in bikes.refused("loads", "--bike", "grey-twin")
    bikes.ok(*MIDDLE, "--load", "solo", *RIDER)
    bikes.ok(*MIDDLE, "--load", "solo", "--rider", "90 kg at 1000 mm")
    kept = bikes.json("loads", "--bike", "grey-twin")["loads"]
    assert [one["load"] for one in kept] == ["solo"] and kept[0]["carried"][0]["mass_kg"]["value"] == 90
    assert "There is no load two-up" in bikes.refused("loads", "--bike", "grey-twin", "--load", "two-up")


def test_behind_the_rear_axle_is_told_and_a_lifting_front_is_refused(tmp_path: Path) -> None:
    bikes = garage(tmp_path)
    said = bikes.ok(*MIDDLE, *RIDER, "--luggage", "box=10 kg at 1700 mm")
    assert "The luggage (box) sits behind the rear axle" in said
    assert "front wheel would lift" in bikes.refused(*MIDDLE, "--load", "x", "--luggage", "250 kg at 2900 mm")
    assert "has no load of this bike" in bikes.refused("loads", "--bike", "grey-twin")  # and nothing was kept


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--rider", "84 at 780 mm"), "no unit"),
        (("--rider", "84 kg at 780"), "no unit"),
        (("--rider", "84 kg at 780 mm at 3 mm"), "not one mass and one place"),
        (("--scales", "front=118 kg"), "Add the other wheel"),
        (("--scales", "middle=118 kg"), "neither front nor rear"),
    ],
)
def test_what_cannot_be_taken_is_told(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    assert said in garage(tmp_path).refused("loads", "--bike", "grey-twin", *words)


def test_pounds_and_inches_in_and_out(tmp_path: Path) -> None:
    # NIST SP 811: 1 lb = 0.45359237 kg; 80 kg = 176.37 lb, 1000 mm = 39.37 in
    said = garage(tmp_path).ok(*MIDDLE, "--rider", "176.37 lb at 39.37 in", "--units", "in")
    assert "rider 176 lb at 39.37 in" in said and " kg" not in said
    same = garage(tmp_path / "b").json(*MIDDLE, "--rider", "176.37 lb at 39.37 in")["loads"][0]
    assert same["axles_kg"]["rear"]["value"] * 9.8 == pytest.approx(1785, abs=0.5)


def test_a_load_is_renamed_and_retired_without_losing_its_rides(tmp_path: Path) -> None:
    book = garage(tmp_path)
    for load in ("Solo", "solo", "SOLO "):
        book.ok("ride", "add", "--bike", "grey-twin", "--load", load, "--reading", "rear=remaining 15 mm")
    assert [one["load"] for one in book.json("loads", "--bike", "grey-twin")["loads"]] == ["Solo"]
    book.ok("loads", "--bike", "grey-twin", "--load", "solo", "--rename", "one up")
    assert {one["load"] for one in book.json("ride", "list")["rides"]} == {"one up"}
    assert book.json("loads", "--bike", "grey-twin", "--load", "One Up")["loads"][0]["load"] == "one up"
    book.ok("loads", "--bike", "grey-twin", "--load", "one up", "--retire")
    assert "no load of this bike" in book.refused("loads", "--bike", "grey-twin")
    assert len(book.json("ride", "list")["rides"]) == 3
    assert book.run("loads", "--bike", "grey-twin", "--rename", "x").exit_code == 2


def test_a_route_is_listed_renamed_and_retired(tmp_path: Path) -> None:
    book = garage(tmp_path)
    for route in ("Ridge loop", "ridge  LOOP "):
        book.ok("ride", "add", "--bike", "grey-twin", "--route", route, "--reading", "rear=remaining 15 mm")
    at = ("ride", "route", "--bike", "grey-twin")
    assert book.json(*at)["routes"] == [{"route": "Ridge loop", "rides": [1, 2]}]
    assert "North loop: 2 rides" in book.ok(*at, "--route", "RIDGE loop", "--rename", "North loop")
    assert "North loop (retired): 2 rides" in book.ok(*at, "--route", "north loop", "--retire")
    assert "No ride of this bike is over x" in book.refused(*at, "--route", "x", "--retire")
    assert book.run(*at, "--rename", "x").exit_code == 2

"""Whose leg a photo shows: card and tags decide, names and the clock help, and nothing is guessed.

The cases are the rules as the tech day states them; there is no outside source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from strandline.day.errors import DayError
from strandline.day.identify.roster_file import read_roster
from tests.helpers.made_day import ROSTER, SHOCK_SEEN, MadeDay, codes, legs
from tests.helpers.stub_reader import Scene
from vision.names import LengthName

FL, FR, RS = "front left", "front right", "rear single"


@pytest.fixture
def day(tmp_path: Path) -> MadeDay:
    return MadeDay(tmp_path / "day")


def test_tags_and_card_decide_whatever_the_name(day: MadeDay) -> None:
    day.put("IMG_1.jpg", tags=(FL, "before"))
    day.put("IMG_2.jpg", tags=(FR, "after"), marker=61.0)
    day.put("IMG_3.jpg", SHOCK_SEEN, card=4, tags=(RS,))
    results = day.run()
    # u = E0 - gn (205 - 110, 205 - 109, 80 - 30)
    assert legs(results) == {
        ("Anna", "front-left", "before"): 95.0,
        ("Anna", "front-right", "after"): 96.0,
        ("Béla", "rear", ""): 50.0,
    }
    assert not results.exceptions


@pytest.mark.parametrize(
    "name",
    ["front/left/before/a.jpg", "FL before.jpg", "before_front-left.jpg", "Anna/3/Front Left/BEFORE.jpg"],
)
def test_names_and_folders_help_where_tags_are_silent(day: MadeDay, name: str) -> None:
    day.put(name)
    assert set(legs(day.run())) == {("Anna", "front-left", "before")}


def test_conflicts_go_to_the_exceptions(day: MadeDay) -> None:
    day.put("rear/a.jpg", tags=(FL,))
    day.put("b.jpg", tags=(FL, FR))
    day.put("c.jpg", tags=(FL, "before", "after"))
    day.put("Béla/front left.jpg", salt=1)
    day.put("card 4/front left.jpg", salt=2)
    day.put("d.jpg", card=9)
    day.put("e.jpg", card=None)
    day.put("f.jpg", tags=(RS,))
    results = day.run()
    assert codes(results) == {
        "rear/a.jpg": "contradiction",
        "b.jpg": "tags_contradict",
        "c.jpg": "tags_contradict",
        "Béla/front left.jpg": "contradiction",
        "card 4/front left.jpg": "contradiction",
        "d.jpg": "unknown_card",
        "e.jpg": "no_card",
        "f.jpg": "no_such_leg",
    }
    assert not legs(results)
    assert results.exceptions and all(one.what for one in results.exceptions)


def test_the_diameter_decides_only_where_it_is_unique(day: MadeDay) -> None:
    day.put("a.jpg", SHOCK_SEEN, card=4, diameter=16.0)
    day.put("b front.jpg", card=4, diameter=38.0, when="2026-05-08T10:00:00")
    day.put("c front.jpg", card=4, diameter=41.0, marker=61.0, when="2026-05-08T10:01:00")
    day.put("d front.jpg", card=3, diameter=41.0)
    results = day.run()
    assert set(legs(results)) == {
        ("Béla", "rear", ""),
        ("Béla", "front-left", ""),
        ("Béla", "front-right", ""),
    }
    assert codes(results) == {"d front.jpg": "which_leg"}
    (left,) = [one for one in day.lines("reading") if one["leg"] == "front-left"]
    assert left["told_by"] == ["card", "name", "shaft's diameter"]


def test_diameters_too_close_decide_nothing(day: MadeDay) -> None:
    # At 400 mm, 10 mm of depth is 2.5 %: 40.6 and 41.0 mm are 4 mm apart in depth, 38 and 41 mm 29 mm.
    bike = day.folder / "bikes" / "single.toml"
    bike.write_text(bike.read_text(encoding="utf-8").replace("38.0 mm", "40.6 mm"), encoding="utf-8")
    day.put("front.jpg", card=4, diameter=41.0)
    assert codes(day.run()) == {"front.jpg": "which_leg"}


def test_windows_share_a_card_by_time(tmp_path: Path) -> None:
    roster = "card;label;bike;from;to\n3;Anna;bikes/twin.toml;9:00;12:00\n3;Béla;bikes/single.toml;12:00;\n"
    day = MadeDay(tmp_path / "day", roster)
    day.put("a fl.jpg", when="2026-05-08T11:59:59")
    day.put("b fl.jpg", when="2026-05-08T12:00:00")
    day.put("c fl.jpg", when="2026-05-08T08:59:59")
    day.put("d fl.jpg")
    day.put("Anna/e fr.jpg", salt=1)
    results = day.run()
    assert set(legs(results)) == {
        ("Anna", "front-left", ""),
        ("Béla", "front-left", ""),
        ("Anna", "front-right", ""),
    }
    assert codes(results) == {"c fl.jpg": "outside_window", "d fl.jpg": "whose_card"}


def test_a_card_for_each_end(tmp_path: Path) -> None:
    roster = "card,label,bike,end,side\n3,Anna,bikes/single.toml,front,left\n4,Anna,bikes/single.toml,rear,\n"
    day = MadeDay(tmp_path / "day", roster)
    day.put("a.jpg")
    day.put("b.jpg", SHOCK_SEEN, card=4)
    day.put("c.jpg", tags=(FR,), salt=1)
    results = day.run()
    assert set(legs(results)) == {("Anna", "front-left", ""), ("Anna", "rear", "")}
    assert codes(results) == {"c.jpg": "contradiction"}
    assert results.bikes[0].cards == (3, 4)


def test_doubles_count_once_and_never_as_two_legs(day: MadeDay) -> None:
    scene = Scene(tags=())
    day.put("a.jpg", scene)
    day.put("front-left/z.jpg", scene)
    day.put("front-right/x.jpg", scene, salt=7)
    day.put("front-left/y.jpg", scene, salt=7)
    results = day.run()
    # The copy in the folder says more than the one at the top.
    assert set(legs(results)) == {("Anna", "front-left", "")}
    assert codes(results) == {
        "a.jpg": "double",
        "front-right/x.jpg": "double_differs",
        "front-left/y.jpg": "double_differs",
    }


def test_readings_that_differ_are_not_chosen_between(day: MadeDay) -> None:
    day.put("fl before 1.jpg", marker=60.0)
    day.put("fl before 2.jpg", marker=60.3, u95=0.2)
    day.put("fr before 1.jpg", marker=60.0)
    day.put("fr before 2.jpg", marker=63.0)
    results = day.run()
    # 2 sqrt(0.2² + 0.1²) = 0.45 mm: 0.3 agrees, 3.0 does not; the more accurate of those that agree counts.
    assert legs(results) == {("Anna", "front-left", "before"): 95.3}
    assert set(codes(results).values()) == {"readings_differ"}
    assert len(results.exceptions) == 2
    # Both pairs make the repeatability: leaving out what disagrees would flatter it.
    assert {one.found.groups for one in results.repeated if one.name is LengthName.MARKER} == {2}


def test_a_bike_without_a_file_costs_its_entrant_only(day: MadeDay) -> None:
    (day.folder / "bikes" / "twin.toml").unlink()
    day.put("fl.jpg")
    day.put("b fl.jpg", card=4)
    results = day.run()
    assert codes(results) == {"fl.jpg": "bike_file_missing"}
    assert str(day.folder) not in results.exceptions[0].what
    assert set(legs(results)) == {("Béla", "front-left", "")}


@pytest.mark.parametrize(
    ("roster", "said"),
    [
        ("card,bike\n3,twin.toml\n", "no column label"),
        ("card,label,shaft_mm\n3,Anna,4100\n", "line 2: shaft_mm: A shaft diameter of"),
        (
            "card,label,kind\n3,Anna,forc\n",
            "the kind is “forc”; write fork, upside-down fork or shock. Did you mean fork?",
        ),
        ("card,label,kind\n3,Anna,fork\n3,Anna,usd\n", "both describe Anna's front"),
        ("card,label,bike,sdie\n3,Anna,b.toml,left\n", "sdie"),
        ("card,label,bike\n47,Anna,b.toml\n", "line 2: “47” is not a card"),
        ("card,label,bike\n³,Anna,b.toml\n", "is not a card"),
        ("card,label,bike,end\n3,Anna,b.toml,middle\n", "the end is “middle”; write front or rear"),
        ("card,label,bike\n3,Anna,b.toml\n3,Béla,c.toml\n", "lines 2 and 3: card 3 serves Anna and Béla"),
        ("card,label,bike,from,to\n3,A,a.toml,9:00,12:00\n3,B,b.toml,11:59,13:00\n", "lines 2 and 3"),
        ("card,label,bike,from,to\n3,A,a.toml,12:00,9:00\n", "“from” 12:00 is not before “to” 9:00"),
        ("card,label,bike,from\n3,A,a.toml,noon\n", "“noon” is not a time"),
        ("card,label,bike\n3,Anna,a.toml\n4,anna ,b.toml\n", "two bikes"),
        ("card,label,bike\n", "has no line with a card"),
        ("card,label,bike\n3,\xff,a.toml\n", "not UTF-8"),
    ],
)
def test_what_is_wrong_in_a_roster_is_reported_with_its_line(tmp_path: Path, roster: str, said: str) -> None:
    path = tmp_path / "roster.csv"
    path.write_bytes(roster.encode("latin-1" if "\xff" in roster else "utf-8"))
    with pytest.raises(DayError) as error:
        read_roster(path)
    assert said in str(error.value)


def test_a_roster_from_a_spreadsheet(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_bytes(ROSTER.replace(",", ";").replace("\n", "\r\n").encode("utf-8-sig"))
    assert [one.label for one in read_roster(path).entries] == ["Anna", "Béla"]

"""``strandline sag``: from lengths, typed and from photos, to millimetres, percent and windows."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest
from PIL import Image

from ridelog.storage.store import Logbook
from strandline.sag.command import USES
from suspension.sag.windows import Use
from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import made, photo, put_in_place

TRAVEL = BIKE.replace(
    "[leg.front-left]",
    '[front]\nwheel_travel = "120 mm"\nrake = "25 deg"\n\n[rear]\nwheel_travel = "100 mm"\n\n[leg.front-left]',
    1,
)


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage", TRAVEL)


SAG = ("sag", "--bike", "grey-twin", "--date", "2026-05-01")
FRONT = ("--length", "front=hanging 612 mm, on-wheels 589 mm / 595 mm, rider-aboard 574 mm / 580 mm")


def test_words_of_the_options_are_the_rooms_own() -> None:
    assert list(USES) == [use.value for use in Use]


def test_both_approaches_cancel_friction(garage: Garage) -> None:
    # Common practice, recomputed by hand: 612 - (589 + 595)/2 = 20; 612 - (574 + 580)/2 = 35; of 120 mm.
    (place,) = garage.json(*SAG, *FRONT)["places"]
    static, rider = place["sags"]
    assert (static["mm"]["value"], rider["mm"]["value"]) == pytest.approx((20, 35))
    assert (static["percent"]["value"], rider["percent"]["value"]) == pytest.approx((100 / 6, 350 / 12))
    assert static["stiction_mm"] == pytest.approx(6) and static["along"] == "vertical wheel travel"
    # Windows of street use, common practice: 15 to 22 and 25 to 35 %.
    assert [one["judgement"] for one in place["sags"]] == ["in its window"] * 2
    # 0.5 mm by rule for each (k = 2): sqrt(0.25² + (sqrt(2) 0.25/2)²) x 2
    assert static["mm"]["u95"] == pytest.approx(2 * math.hypot(0.25, 0.25 / math.sqrt(2)), rel=1e-3)


def test_risen_and_settled_are_kept_as_such(garage: Garage) -> None:
    """Before the slash the bike rose after a push, after it it settled after a lift."""
    garage.ok(*SAG, *FRONT)
    with Logbook.open(garage.logbook, create=False) as book:
        known = book.bikes.find("Grey twin")
        assert known is not None
        (kept,) = book.sag.current(known.id)
    found = {(one.state.value, one.approach.value): one.length_mm.value for one in kept.measurements}
    assert found == {
        ("hanging", "not-stated"): 612,
        ("on-wheels", "from-below"): 589,
        ("on-wheels", "from-above"): 595,
        ("rider-aboard", "from-below"): 574,
        ("rider-aboard", "from-above"): 580,
    }


def test_windows_follow_the_use(garage: Garage) -> None:
    words = ("--length", "front=hanging 612 mm, rider-aboard 574 mm / 580 mm", "--dry-run")
    for use, judged in (
        ("street", "in its window"),
        ("sport", "in its window"),
        ("off-road", "over its window"),
    ):
        (place,) = garage.json(*SAG, *words, "--use", use)["places"]
        assert place["sags"][0]["judgement"] == judged, use  # 29.2 % of 25-35, 20-30, 20-27


def test_a_forks_exposed_length_is_turned_to_the_wheel(garage: Garage) -> None:
    # Derived geometry: 30 mm of stroke at a rake of 25 degrees is 30 cos 25 = 27.19 mm of vertical travel.
    words = ("--exposed", "front-left=rider-aboard 173 mm / 177 mm")
    (place,) = garage.json(*SAG, *words)["places"]
    (rider,) = place["sags"]
    assert rider["mm"]["value"] == pytest.approx(30 * math.cos(math.radians(25)))
    assert rider["percent"]["value"] == pytest.approx(100 * 30 * math.cos(math.radians(25)) / 120)


def test_a_shock_without_motion_ratio_is_not_judged(garage: Garage) -> None:
    (place,) = garage.json(*SAG, "--exposed", "rear=rider-aboard 60 mm / 62 mm")["places"]
    (rider,) = place["sags"]
    assert rider["along"] == "stroke" and rider["judgement"] == "not judged"
    assert rider["mm"]["value"] == pytest.approx(19)


def test_photos_give_exposed_lengths(garage: Garage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lengths = {"a.jpg": 173.0, "b.jpg": 177.0}
    put_in_place(monkeypatch, lambda picture, focal, declared: made(lengths[picture.path.name], 30.0, 100.0))
    names = [f"front-left.rider-aboard={photo(tmp_path / name)}" for name in lengths]
    (place,) = garage.json(*SAG, "--photo", names[0], "--photo", names[1])["places"]
    assert place["sags"][0]["mm"]["value"] == pytest.approx(30 * math.cos(math.radians(25)))
    assert place["sags"][0]["stiction_mm"] == pytest.approx(4 * math.cos(math.radians(25)))
    put_in_place(monkeypatch, made())
    assert "nothing was kept" in garage.refused(*SAG, "--photo", names[0])


def test_a_session_has_the_day_of_its_photos(
    garage: Garage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place(monkeypatch, made(173.0, 30.0, 100.0))
    name = photo(tmp_path / "a.jpg")
    exif = Image.Exif()
    exif[306] = "2026:03:07 18:40:00"  # DateTime, JEITA CP-3451
    Image.open(name).save(name, exif=exif)
    of_photo = ("sag", "--bike", "grey-twin", "--photo", f"front-left.rider-aboard={name}")
    assert garage.json(*of_photo)["date"] == "2026-03-07"
    assert garage.json(*of_photo, "--date", "2026-03-08")["date"] == "2026-03-08"
    exif[306] = "1980:01:01 00:00:00"  # a clock that nobody set
    Image.open(name).save(name, exif=exif)
    assert garage.json(*of_photo)["date"] == dt.date.today().isoformat()


def test_kept_shown_again_and_dry_run(garage: Garage) -> None:
    garage.ok(*SAG, *FRONT, "--dry-run")
    assert "has no sag of this bike" in garage.refused("sag", "--bike", "grey-twin")
    garage.ok(*SAG, *FRONT, "--load", "solo")
    again = garage.json("sag", "--bike", "grey-twin")
    assert again["load"] == "solo" and again["date"] == "2026-05-01"
    assert again["places"][0]["sags"][1]["mm"]["value"] == pytest.approx(35)
    assert "no errors" in garage.ok("logbook", "check")


def test_inches(garage: Garage) -> None:
    said = garage.ok(
        *SAG, "--length", "front=hanging 24 in, rider-aboard 22 1/2 in / 22 3/4 in", "--units", "in"
    )
    assert "rider sag 1.375 ± " in said and "risen and settled differ by 0.250 in" in said
    assert not [word for word in said.split() if word == "mm"]


def test_the_counts_are_kept_with_the_session(garage: Garage) -> None:
    found = garage.json(*SAG, *FRONT, "--setting", "front.preload=2 turns", "--setting", "rear=6 clicks?")
    counts = {(one["leg"], one["adjuster"]): one["count"] for one in found["settings"]}
    assert counts == {("front-left", "preload"): 2, ("front-right", "preload"): 2, ("rear", "preload"): 6}
    assert garage.json("sag", "--bike", "grey-twin")["settings"] == found["settings"]
    assert "front-left preload: 2 turns from the soft end" in garage.ok("sag", "--bike", "grey-twin")
    assert "no errors" in garage.ok("logbook", "check")


def test_counts_without_lengths_and_counts_that_there_are_not_are_refused(garage: Garage) -> None:
    assert garage.run("sag", "--bike", "grey-twin", "--setting", "rear=6 clicks").exit_code == 2
    said = garage.refused(*SAG, *FRONT, "--setting", "front=2 turns", "--setting", "front-left=3 turns")
    assert "more than once" in said
    garage.refused(*SAG, *FRONT, "--setting", "front=7 turns")
    assert not garage.logbook.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--length", "front=hanging 612 mm, side-stand 600 mm"), "side-stand"),
        (("--length", "front=hanging 612 mm"), "no length with the bike on its wheels"),
        (("--length", "front=rider-aboard 600 mm"), "hanging free is not known"),
        (("--length", "front-left=hanging 612 mm"), "neither front nor rear"),
        (("--length", "front=hanging 612, on-wheels 600 mm"), "no unit"),
        (("--length", "front=hanging 600 mm, on-wheels 612 mm"), "higher loaded than hanging"),
        (("--length", "front=hanging 612 mm, hanging 613 mm, on-wheels 600 mm"), "more than once"),
        (("--exposed", "front=on-wheels 170 mm"), "has no leg front"),
        (("--photo", "front-left=a.jpg"), "not LEG.STATE=FILE"),
    ],
)
def test_what_cannot_be_taken_is_told(garage: Garage, words: tuple[str, ...], said: str) -> None:
    assert said in garage.refused(*SAG, *words)
    assert not garage.logbook.exists()

"""``strandline ride``: from what is typed, and from readings put in place of photos, into the logbook and out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridelog.names import Felt
from ridelog.storage.store import Logbook
from strandline.shared.ride_options import FELT
from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import made, photo, put_in_place


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path / "garage")


ADD = ("ride", "add", "--bike", "grey-twin", "--date", "2026-05-01")
REAR = "rear=exposed 65 mm, marker 50 mm, remaining 15 mm"


def test_words_of_the_options_are_the_rooms_own() -> None:
    assert list(FELT) == [felt.value for felt in Felt]


def test_a_ride_typed_by_hand_gives_the_check_values(garage: Garage) -> None:
    # Derived geometry of the trade: shock E0 80, b 20, bs 8, E 65, d 50, w 2.5 -> c 15, u 65, gn 15, hard reserve 27.
    words = ("--route", "Ridge loop", "--load", "solo", "--setting", "rear=6 clicks?", "--felt", "harsh")
    ride = garage.json(*ADD, *words, "--reading", REAR, "--state", "on-wheels", "--by", "A. Tester")
    assert (ride["ride"], ride["date"], ride["route"], ride["load"]) == (
        1,
        "2026-05-01",
        "Ridge loop",
        "solo",
    )
    assert ride["felt"] == ["harsh"]
    (setting,) = ride["settings"]
    assert (setting["count"], setting["kind"], setting["confidence"]) == (6, "clicks", "in-doubt")
    (reading,) = ride["readings"]
    assert reading["remaining"] == {"value": 15.0, "u95": 0.5} and reading["state"] == "on-wheels"
    assert reading["provenance"]["source"] == "typed" and reading["provenance"]["who"] == "A. Tester"
    stroke = reading["stroke"]
    for name, value in (
        ("compression_mm", 15),
        ("used_mm", 65),
        ("reserve_bumper_mm", 15),
        ("reserve_hard_mm", 27),
    ):
        assert stroke[name]["value"] == pytest.approx(value), name


def test_readings_from_photos(garage: Garage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []
    covariance = np.array([[0.02, 0.01, np.nan], [0.01, 0.02, 0.005], [np.nan, 0.005, 0.02]])

    def see(picture, focal, inputs):  # type: ignore[no-untyped-def]
        seen.append(inputs)
        return made(175.0, 62.0, 113.0, covariance_mm2=covariance)

    put_in_place(monkeypatch, see)
    picture = photo(tmp_path / "IMG 1.jpg")
    ride = garage.json(*ADD, "--photo", f"front-left={picture}", "--state", "front-left=on-wheels")
    (declared,) = seen
    assert declared.shaft_mm.value == 41.0 and declared.leg.layout.value == "fork"
    assert declared.leg.extended_mm.value == 205 and declared.marker.width_mm.value == 3.6
    (reading,) = ride["readings"]
    import hashlib

    assert reading["provenance"]["photo_sha256"] == hashlib.sha256(picture.read_bytes()).hexdigest()
    assert reading["provenance"]["photo_name"] == "IMG 1.jpg"
    assert reading["provenance"]["program_version"]
    # Correlations 0.5 and 0.25 of the photo, with the lengths' own standard uncertainties of 0.1 mm.
    assert reading["exposed_marker_mm2"] == pytest.approx(0.005) and reading["exposed_remaining_mm2"] is None
    assert reading["marker_remaining_mm2"] == pytest.approx(0.0025)
    assert reading["stroke"]["used_mm"]["value"] == pytest.approx(92)
    with Logbook.open(garage.logbook) as book:
        assert book.rides.get(1).readings[0].at_stop is False


def test_a_refused_photo_records_nothing(
    garage: Garage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place(monkeypatch, made())
    said = garage.refused(*ADD, "--reading", REAR, "--photo", f"front-left={photo(tmp_path / 'a.jpg')}")
    assert "nothing was recorded" in said and "No card was found" in said
    assert garage.json("ride", "list") == {"rides": []}
    garage.bike.write_text(BIKE.replace('shaft = "14.0 mm"\n', ""))
    said = garage.refused(*ADD, "--photo", f"rear={photo(tmp_path / 'a.jpg')}")
    assert "no shaft diameter for rear" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--setting", "rear=6 turns"), "is counted in clicks"),
        (("--setting", "rear=6 turns"), "counted in clicks, not in turns"),
        (("--setting", "rear=16 clicks"), "0 to 15, counted from the soft end; 16 is outside"),
        (("--setting", "rear=2.5 clicks"), "Clicks are whole"),
        (("--setting", "rear.rebound=6 clicks"), "has no adjuster rebound"),
        (("--setting", "side=6 clicks"), "has no leg side"),
        (("--setting", "rear"), "is not NAME=VALUE"),
        (("--setting", "rear=6 clicks", "--setting", "rear=7 clicks"), "refuses this record"),
        (("--reading", "rear=15 mm"), "is not a length of a reading"),
        (("--reading", "rear=remaining 15"), "has no unit"),
        (("--reading", "rear=remaining 15 mm, remaining 16 mm"), "given twice"),
        (("--reading", "rear=exposed 65 mm, marker 50 mm, remaining 18 mm"), "do not add up"),
        (("--reading", "front=remaining 15 mm"), "has no leg front"),
        (("--state", "leaning", "--reading", REAR), "is not a state"),
        (("--temperature", "17"), "not a number with C or F"),
        (("--pressure", "rear=36"), "no unit"),
        (("--pressure", "side=36 psi"), "neither front nor rear"),
        (("--date", "2026-02-30"), "is not a date (use 2026-11-09)"),
        (("--date", "2999-01-01"), "is in the future"),
        (("--photo", "rear=none.jpg"), "none.jpg"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_and_nothing_recorded(
    garage: Garage, words: tuple[str, ...], said: str
) -> None:
    assert said in garage.refused(*ADD, *words)
    assert garage.json("ride", "list") == {"rides": []}


def test_units_of_readings_temperature_and_pressure(garage: Garage) -> None:
    # NIST SP 811: inch 25.4 mm, psi 6.894757 kPa; t_F = 1.8 t_C + 32.
    words = ("--temperature", "63 F", "--pressure", "rear=36 psi")
    ride = garage.json(*ADD, "--reading", "rear=remaining 1 in ± 0.02 in, hanging", *words)
    (reading,) = ride["readings"]
    assert reading["remaining"]["value"] == pytest.approx(25.4) and reading["state"] == "hanging"
    assert reading["remaining"]["u95"] == pytest.approx(0.508)
    assert ride["temperature_c"] == pytest.approx((63 - 32) / 1.8)
    assert ride["rear_pressure_kpa"] == pytest.approx(36 * 6.894757, rel=1e-6)


def test_front_means_both_sides(garage: Garage) -> None:
    settings = garage.json(*ADD, "--setting", "front.preload=2.5 turns", "--setting", "rear=don't know")[
        "settings"
    ]
    assert [(one["leg"], one["count"]) for one in settings] == [
        ("front-left", 2.5),
        ("front-right", 2.5),
        ("rear", None),
    ]


def test_marker_at_the_stop_by_hand(garage: Garage) -> None:
    ride = garage.json(*ADD, "--reading", "rear=remaining 2.5 mm at-stop on-wheels")
    stroke = ride["readings"][0]["stroke"]
    # The trade's censoring: a marker at the bumper says no more than u >= Sb - w, here 80 - 2.5.
    assert stroke["bound"] == "at least" and stroke["used_mm"]["value"] == pytest.approx(77.5)


def test_amend_changes_only_what_is_given_and_keeps_the_rest(garage: Garage) -> None:
    said = ("--route", "Ridge loop", "--note", "kerb", "--setting", "rear=6 clicks")
    garage.ok(*ADD, *said, "--reading", REAR, "--state", "on-wheels")
    felt = ("--felt", "dives", "--felt", "harsh")
    ride = garage.json("ride", "amend", "1", "--setting", "rear=7 clicks", "--note", "", *felt)
    assert ride["route"] == "Ridge loop" and ride["note"] is None and ride["felt"] == ["dives", "harsh"]
    assert [one["count"] for one in ride["settings"]] == [7]
    ride = garage.json("ride", "amend", "1", "--reading", "rear=remaining 14 mm")
    (reading,) = ride["readings"]
    assert (
        reading["remaining"]["value"] == 14 and reading["state"] == "on-wheels" and reading["exposed"] is None
    )
    ride = garage.json("ride", "amend", "1", "--state", "rider-aboard")
    assert ride["readings"][0]["state"] == "rider-aboard" and ride["readings"][0]["remaining"]["value"] == 14
    history = garage.json("ride", "show", "1", "--history")["history"]
    assert [len(history[name]) for name in ("entries", "settings", "readings")] == [2, 2, 3]
    assert history["readings"][1]["replaces"] == history["readings"][0]["id"]
    assert garage.json("ride", "amend", "1", "--felt-nothing")["felt"] == []
    assert "nothing to change" in garage.refused("ride", "amend", "1")
    assert garage.json("logbook", "check")["sound"] is True


def test_more_than_one_reading_of_a_leg(garage: Garage) -> None:
    garage.ok(*ADD, "--reading", REAR)
    garage.ok("ride", "amend", "1", "--reading", "rear=remaining 16 mm", "--add")
    assert "has 2 readings of rear" in garage.refused(
        "ride", "amend", "1", "--reading", "rear=remaining 14 mm"
    )
    ride = garage.json("ride", "amend", "1", "--withdraw-reading", "rear")
    assert ride["readings"] == []
    assert "has no reading of rear" in garage.refused("ride", "amend", "1", "--withdraw-reading", "rear")


def test_a_withdrawn_ride_is_listed_only_when_asked(garage: Garage) -> None:
    garage.ok(*ADD, "--note", "wet")
    garage.ok("ride", "amend", "1", "--withdraw")
    assert garage.json("ride", "list")["rides"] == []
    assert [one["withdrawn"] for one in garage.json("ride", "list", "--withdrawn")["rides"]] == [True]
    assert garage.json(*ADD, "--note", "dry")["ride"] == 2


def test_a_ride_keeps_the_bike_as_it_was_until_told_otherwise(garage: Garage) -> None:
    garage.ok(*ADD, "--reading", REAR)
    garage.ok("bike", "edit", "grey-twin", "--set", "leg.rear.extended=82 mm")
    used = garage.json("ride", "show", "1")["readings"][0]["stroke"]["used_mm"]["value"]
    assert used == pytest.approx(65)
    ride = garage.json("ride", "amend", "1", "--bike-file-now", "grey-twin")
    assert ride["readings"][0]["stroke"]["used_mm"]["value"] == pytest.approx(67)


def test_list_for_a_person(garage: Garage) -> None:
    garage.ok(*ADD, "--reading", REAR, "--setting", "rear=6 clicks?", "--route", "Ridge\x1b[31m loop")
    text = garage.ok("ride", "list")
    assert "Rear, mm" in text and "6?: 65.0 ± 0.7" in text and "\x1b" not in text
    assert "2.559 ± 0.028 in" in garage.ok("ride", "show", "1", "--units", "in")
    assert garage.json("ride", "list", "--bike", "Grey twin")["rides"][0]["ride"] == 1
    assert "There is no bike nope" in garage.refused("ride", "list", "--bike", "nope")


def test_no_logbook_yet_and_no_such_ride(garage: Garage) -> None:
    assert "There is no logbook" in garage.refused("ride", "list")
    garage.ok(*ADD, "--note", "wet")
    assert "There is no ride 7" in garage.refused("ride", "show", "7")


def test_an_event_stops_riding_until_it_is_cleared(garage: Garage) -> None:
    said = garage.ok(*ADD, "--reading", REAR, "--event", "oil leak front")
    assert (
        "event: oil leak front" in said
        and "Stop riding until this has been looked at: oil leak front" in said
    )
    ride = garage.json(*ADD, "--reading", REAR)
    assert any("oil leak front" in one for one in ride["cautions"])
    assert "not an open event" in garage.refused(*ADD, "--event-cleared", "chain")
    ride = garage.json(*ADD, "--event-cleared", "Oil leak  front", "--note", "new seal")
    assert ride["events_cleared"] == ["oil leak front"] and ride["cautions"] == []
    assert "No event is open" in garage.refused(*ADD, "--event-cleared", "all")


def test_what_was_felt_belongs_to_an_end(garage: Garage) -> None:
    said = garage.ok(
        *ADD, "--reading", REAR, "--felt", "front=harsh", "--felt", "dives", "--felt", "rear=harsh"
    )
    assert "felt: front harsh, rear harsh, dives" in said
    ride = garage.json("ride", "show", "1")
    assert (ride["felt"], ride["felt_front"], ride["felt_rear"]) == (["harsh", "dives"], ["harsh"], ["harsh"])
    assert garage.json("ride", "amend", "1", "--felt-nothing")["felt_front"] == []
    assert garage.run(*ADD, "--reading", REAR, "--felt", "left=harsh").exit_code == 2
    assert garage.run(*ADD, "--reading", REAR, "--felt", "front=soft").exit_code == 2


def test_a_tyre_off_the_placard_is_said_before_anything_else(garage: Garage) -> None:
    garage.ok("bike", "edit", "grey-twin", "--set", "rear.tyre_solo='2.5 bar'")
    said = garage.ok(*ADD, "--reading", REAR, "--tyre", "rear=1.4 bar")
    assert "The rear tyre had 1.4 bar, the placard says 2.5 bar." in said

"""The marker in the bumper, the case that a marker is there for: a photo shows none, and that is a reading.

What is right is the trade's practice (common practice, no source).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.made_bikes import WEIGHED
from tests.helpers.made_readings import made, photo, put_in_place
from tests.strandline.advise.test_stories import Owner
from vision.names import LengthName
from vision.reading import Note
from vision.reasons import Reason

ADD = ("ride", "add", "--bike", "grey-twin", "--load", "solo", "--setting", "rear.preload=6 clicks")


@pytest.fixture
def owner(tmp_path: Path) -> Owner:
    return Owner(tmp_path)


@pytest.mark.parametrize("words", [("--at-stop", "rear"), ("--reading", "rear=at stop")])
def test_a_marker_at_the_bumper_is_a_reading_of_at_least(owner: Owner, words: tuple[str, str]) -> None:
    ride = owner.place.json(*ADD, *words)
    (reading,) = ride["readings"]
    assert reading["at_stop"] is True
    assert not {"exposed", "marker", "remaining", "exposed_mm", "marker_mm", "remaining_mm"} & {
        k for k, v in reading.items() if v
    }
    case = owner.asked()
    assert case["advice"]["action"] == "more preload" and case["advice"]["resulting_count"] >= 7
    assert "reached the bumper" in case["said"]
    # Sb - w: 80 to the bumper's face less a marker 2.5 mm wide.
    assert "used at least 77.5" in case["said"]


def test_at_the_bumper_counts_where_the_extended_length_is_not_known(tmp_path: Path) -> None:
    owner = Owner(tmp_path, WEIGHED.replace('extended = "80 mm"', ""))
    owner.place.ok(*ADD, "--at-stop", "rear")
    case = owner.asked()
    assert case["advice"]["action"] == "more preload" and case["advice"]["resulting_count"] >= 7
    assert "reached the bumper" in case["said"] and " mm of stroke" not in case["said"]


def test_a_fork_that_stops_before_its_clamp_has_no_marker_there(owner: Owner) -> None:
    # E0 205, S 120: 85 mm of the tube never enter the seal.
    said = owner.place.refused(*ADD, "--at-stop", "front")
    assert "cannot come to the far end" in said
    assert owner.place.json("ride", "list") == {"rides": []}


def test_a_photo_without_a_marker_says_how_to_record_it(
    owner: Owner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bare = made(60.0, notes=(Note(Reason.NO_MARKER, LengthName.MARKER, "no edge of a marker was found"),))
    put_in_place(monkeypatch, bare)
    said = " ".join(owner.place.ok(*ADD, "--photo", f"rear={photo(tmp_path / 'a.jpg')}").split())
    assert "No marker on the visible shaft" in said and "strandline ride amend 1 --at-stop rear" in said
    owner.place.ok("ride", "amend", "1", "--at-stop", "rear")
    case = owner.asked()
    assert case["advice"]["action"] == "more preload" and "reached the bumper" in case["said"]
    assert "--at-stop" in Reason.NO_MARKER.advice

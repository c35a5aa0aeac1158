"""``strandline read --bike``: nothing typed that the bike's file says, and recorded as ``ride add`` records it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import made, photo, put_in_place

# Without what differs between any two records: identifiers and the time of day.
OWN = ("id", "ride", "recorded_at", "provenance", "bike_version_id")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path, BIKE[: BIKE.index("[leg.rear]")])


def plain(value: Any) -> Any:
    """Leave out what is each record's own."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items() if key not in OWN and not key.endswith("_id")}
    return [plain(one) for one in value] if isinstance(value, list) else value


def test_the_only_bike_and_its_file_are_taken(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []

    def see(picture, focal, inputs):  # type: ignore[no-untyped-def]
        seen.append(inputs)
        return made(143.0, 50.0, 93.0)

    put_in_place(monkeypatch, see)
    picture = photo(garage.logbook.parent / "a.jpg")
    shown = garage.run("read", picture, "--state", "on-wheels")
    assert shown.exit_code == 0 and "Read as front-left" in shown.stderr
    assert not garage.logbook.exists()  # nothing is recorded unasked
    (inputs,) = seen
    assert inputs.shaft_mm.value == 41.0 and inputs.marker.width_mm.value == 3.6
    assert inputs.leg.extended_mm.value == 205.0 and inputs.state.value == "on-wheels"


def test_record_is_what_ride_add_records(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made(143.0, 50.0, 93.0))
    picture = photo(garage.logbook.parent / "a.jpg")
    more = ("--setting", "front.preload=3 turns", "--state", "on-wheels", "--print-scale", "0.99")
    garage.ok("ride", "add", "--photo", f"front-left={picture}", *more)
    garage.ok("read", picture, "--record", *more)
    added, recorded = garage.json("ride", "list")["rides"]
    assert (added["ride"], recorded["ride"]) == (1, 2) and recorded["readings"] and recorded["settings"]
    assert plain(added) == plain(recorded)


def test_what_cannot_be_meant_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    garage = Garage(tmp_path)
    put_in_place(monkeypatch, made(143.0, 50.0, 93.0))
    picture = photo(tmp_path / "a.jpg")
    assert "Which leg" in garage.refused("read", picture)
    assert "Did you mean rear?" in garage.refused("read", picture, "--leg", "raer")
    assert (
        "in the bike's file already"
        in garage.run("read", picture, "--bike", "grey-twin", "--shaft", "41mm").stderr
    )
    assert garage.run("read", picture, "--shaft", "41mm", "--layout", "fork", "--record").exit_code == 2
    assert garage.run("read", picture, "--setting", "rear.preload=3 clicks").exit_code == 2
    garage.bike.unlink()
    assert "Missing option '--shaft'" in garage.run("read", picture).stderr


def test_a_photo_that_is_refused_is_not_recorded(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made())
    result = garage.run("read", photo(garage.logbook.parent / "a.jpg"), "--record")
    assert result.exit_code == 1 and not garage.logbook.exists()

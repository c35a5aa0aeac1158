"""``strandline read --bike``: nothing typed that the bike's file says, and recorded as ``ride add`` records it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.helpers.made_bikes import BIKE, Garage
from tests.helpers.made_readings import json_lines, made, photo, put_in_place

# Without what differs between any two records: identifiers and the time of day.
OWN = ("id", "ride", "recorded_at", "provenance", "bike_version_id")


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    return Garage(tmp_path, BIKE[: BIKE.index("[leg.rear]")])


def dated(path: Path, when: str) -> Path:
    """Write a small JPEG with EXIF's DateTimeOriginal."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = when
    Image.new("RGB", (64, 48), (90, len(str(path)), int(when[8:10]))).save(path, "JPEG", exif=exif)
    return path


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
    assert "or give --shaft and --layout" in garage.refused("read", picture)
    assert "Missing option '--layout'" in garage.run("read", picture, "--shaft", "41mm").stderr


def test_a_photo_is_read_once_and_gives_its_day_and_the_advice(
    garage: Garage, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The day is EXIF's DateTimeOriginal (CIPA DC-008, tag 0x9003), written here by Pillow."""
    calls = []

    def see(picture, focal, inputs):  # type: ignore[no-untyped-def]
        calls.append(picture.path)
        return made(143.0, 50.0, 93.0)

    put_in_place(monkeypatch, see)
    picture = dated(garage.logbook.parent / "a.jpg", "2026:09:03 17:40:00")
    said = garage.ok("read", picture, "--record", "--setting", "front=3 turns", "--load", "solo")
    assert calls == [picture]
    assert "Recorded as ride 1, 2026-09-03: Grey twin, solo" in said and "Do: Front preload" in said
    later = dated(garage.logbook.parent / "b.jpg", "2026:09:10 09:00:00")
    _, again = json_lines(garage.run("read", later, "--record", "--json"))
    assert again["date"] == "2026-09-10" and len(calls) == 2 and again["advice"][0]["end"] == "front"


def test_typed_days_go_before_the_photos_and_impossible_ones_are_not_taken(
    garage: Garage, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place(monkeypatch, made(143.0, 50.0, 93.0))
    folder, today = garage.logbook.parent, dt.date.today().isoformat()
    for when, typed, day in (
        ("2026:09:03 17:40:00", ("--date", "2026-09-01"), "2026-09-01"),
        ("2000:01:01 00:00:00", (), today),  # a clock that nobody set
        ("2999:01:01 00:00:00", (), today),
    ):
        picture = dated(folder / "a.jpg", when)
        assert garage.json("ride", "add", "--photo", f"front-left={picture}", *typed)["date"] == day


def test_the_first_count_is_carried_on_and_the_same_photo_is_noticed(
    garage: Garage, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place(monkeypatch, made(143.0, 50.0, 93.0))
    picture = photo(garage.logbook.parent / "a.jpg")
    garage.ok("read", picture, "--record", "--setting", "front=3 turns")
    said = " ".join(garage.ok("read", picture, "--record").split())
    assert "Ride 2 has no preload count: 4 turns taken over, as advised before it." in said
    assert "Ride 1 has the same photo, a.jpg." in said and "strandline ride amend 2 --withdraw" in said


def test_the_leg_photographed_last_is_the_likely_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    garage = Garage(tmp_path)
    put_in_place(monkeypatch, made(62.0, 40.0, 22.0))
    garage.ok("read", photo(tmp_path / "a.jpg"), "--leg", "rear", "--record")
    again = garage.run("read", photo(tmp_path / "b.jpg"))
    assert again.exit_code == 0 and "Read as rear of Grey twin (as last time" in again.stderr


def test_ctrl_c_keeps_what_was_read(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    def see(picture, focal, inputs):  # type: ignore[no-untyped-def]
        if picture.path.name == "b.jpg":
            raise KeyboardInterrupt
        return made(143.0, 50.0, 93.0)

    put_in_place(monkeypatch, see)
    names = [photo(garage.logbook.parent / f"{one}.jpg") for one in "abc"]
    result = garage.run("read", *names, "--record")
    assert result.exit_code == 130 and "a.jpg: read" in result.stdout and "b.jpg" not in result.stdout
    assert "Stopped after 1 of 3 photos" in result.stderr and not garage.logbook.exists()


def test_a_photo_that_is_refused_is_not_recorded(garage: Garage, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in_place(monkeypatch, made())
    result = garage.run("read", photo(garage.logbook.parent / "a.jpg"), "--record")
    assert result.exit_code == 1 and not garage.logbook.exists()

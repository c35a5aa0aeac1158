"""Clocks that go back, in what is no ride: cautions, a day's readings, photos of a garage, cards, sag."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

import pytest

from ridelog.names import LegName
from strandline.advise.said_today import SaidToday
from strandline.garage.photos.store import PhotoStore, StoredPhoto, Subject
from strandline.shared import parse, photo_days
from suspension.advice.cautions import Caution
from tests.helpers.made_bikes import Garage

ROUTINE = next(one for one in Caution if one not in (Caution.STOP_RIDING, Caution.LOAD))


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def set_clock(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    class Clock(dt.date):
        @classmethod
        def today(cls) -> Clock:
            return cls.fromisoformat(text)

    for module in (parse, photo_days):
        monkeypatch.setattr(
            module, "dt", SimpleNamespace(date=Clock, timedelta=dt.timedelta, datetime=dt.datetime)
        )


def test_cautions_are_said_again_on_another_day_whichever_way_the_clock_went(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite"
    said = SaidToday(logbook, day("2026-06-02"))
    said.note([ROUTINE])
    assert SaidToday(logbook, day("2026-06-02")).includes(ROUTINE)
    for other in ("2026-06-01", "2026-06-03", "2025-06-02", "2031-01-01"):
        assert not SaidToday(logbook, day(other)).includes(ROUTINE), other


def test_a_clock_that_starts_on_the_same_day_each_time_silences_no_caution(tmp_path: Path) -> None:
    """A board without a battery: its day comes again with every start, for years."""
    logbook = tmp_path / "logbook.sqlite"
    for _ in range(2):
        said = SaidToday(logbook, day("1970-01-01"))
        assert not said.includes(ROUTINE)
        said.note([ROUTINE])


def test_a_warning_that_something_is_broken_is_said_every_time(tmp_path: Path) -> None:
    logbook = tmp_path / "logbook.sqlite"
    SaidToday(logbook, day("2026-06-02")).note([Caution.STOP_RIDING, ROUTINE])
    assert not SaidToday(logbook, day("2026-06-02")).includes(Caution.STOP_RIDING)


def test_each_logbook_has_its_own_cautions(tmp_path: Path) -> None:
    SaidToday(tmp_path / "a.sqlite", day("2026-06-02")).note([ROUTINE])
    assert not SaidToday(tmp_path / "b.sqlite", day("2026-06-02")).includes(ROUTINE)


def test_the_later_photo_of_a_leg_stays_the_later_one(tmp_path: Path) -> None:
    """The clock is set back by an hour between two photos: which of them counts depends on their order."""
    store = PhotoStore(tmp_path / "photos")
    subject = Subject("sandpiper", LegName.REAR, draft="d")
    ids = []
    for arrived in (
        "2026-06-02T10:00:00.000+00:00",
        "2026-06-02T09:00:00.000+00:00",
        "2026-06-02T09:00:00.000+00:00",
    ):
        draft = tmp_path / "draft.part"
        draft.write_bytes(b"x")
        photo = StoredPhoto(store.new_id(), "", subject, "", arrived)
        ids.append(store.add(photo, draft).id)
    assert [one.id for one in store.of_draft("d")] == ids
    assert [one.id for one in PhotoStore(tmp_path / "photos").of_draft("d")] == ids  # and after a new start


def test_a_days_photos_with_clocks_that_were_never_set_do_not_date_a_ride(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    set_clock(monkeypatch, "2026-06-02")
    times = [
        dt.datetime(1970, 1, 1),
        dt.datetime(2099, 1, 1),
        dt.datetime(2026, 5, 30),
        dt.datetime(2026, 5, 31),
        None,
    ]
    assert photo_days.earliest_day(times) == day("2026-05-30") and photo_days.latest_day(times) == day(
        "2026-05-31"
    )
    assert photo_days.earliest_day(times[:2]) is None
    # This machine's clock was never set, the camera's was.
    set_clock(monkeypatch, "1970-01-01")
    assert photo_days.latest_day(times[2:]) == day("2026-05-31")


def test_a_card_carries_no_date_that_cannot_be(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch, "1970-01-01")
    assert parse.day_or_none() is None
    set_clock(monkeypatch, "2026-06-02")
    assert parse.day_or_none() == day("2026-06-02")


def test_sag_measured_after_the_clock_went_back_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    garage = Garage(tmp_path / "garage")
    sag = ("sag", "--bike", "grey-twin")
    set_clock(monkeypatch, "2026-06-02")
    first = garage.run(*sag, "--exposed", "rear=on-wheels 70 mm")
    assert first.exit_code == 0 and "one of the two dates" not in " ".join(first.output.split())
    set_clock(monkeypatch, "2026-05-01")
    second = garage.run(*sag, "--exposed", "rear=on-wheels 60 mm")
    words = (
        "A sag of 2026-06-02 is kept, later than today by this machine's clock: one of the two dates is wrong"
    )
    assert second.exit_code == 0 and words in " ".join(second.output.split())
    set_clock(monkeypatch, "2026-06-03")
    assert "one of the two dates" not in " ".join(garage.run(*sag).output.split())

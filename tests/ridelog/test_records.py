"""Records as they are handed in and out."""

from __future__ import annotations

import datetime as dt
from dataclasses import FrozenInstanceError

import pytest

from ridelog.errors import RecordError
from ridelog.names import Basis
from ridelog.storage.records import Approach, Load, Provenance, SagLength, Source, new_id, now_utc
from tests.helpers.made_records import TYPED, fork_reading


def test_identifiers_are_32_hexadecimal_digits_and_differ() -> None:
    found = {new_id() for _ in range(100)}
    assert len(found) == 100 and all(len(one) == 32 and int(one, 16) >= 0 for one in found)
    assert fork_reading().id != fork_reading().id


def test_times_are_utc_in_iso_8601() -> None:
    text = now_utc()
    assert len(text) == len("2026-05-01T10:20:30.000Z") and text.endswith("Z")
    gap = dt.datetime.now(dt.UTC) - dt.datetime.fromisoformat(text)
    assert dt.timedelta(seconds=-1) < gap < dt.timedelta(minutes=1)


@pytest.mark.parametrize(
    ("source", "name", "sha256", "right"),
    [
        (Source.TYPED, None, None, True),
        (Source.PHOTO, "a.jpg", "ab" * 32, True),
        (Source.PHOTO, None, None, False),
        (Source.PHOTO, "a.jpg", None, False),
        (Source.PHOTO, None, "ab" * 32, False),
        (Source.TYPED, "a.jpg", "ab" * 32, False),
    ],
)
def test_a_photos_value_names_its_photo_and_a_typed_one_none(
    source: Source, name: str | None, sha256: str | None, right: bool
) -> None:
    if right:
        found = Provenance(source, "1", photo_name=name, photo_sha256=sha256)
        assert found.basis is Basis.MEASURED and found.recorded_at.endswith("Z")
        return
    with pytest.raises(RecordError, match="the photo's name and hash"):
        Provenance(source, "1", photo_name=name, photo_sha256=sha256)


def test_records_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        TYPED.who = "another"  # type: ignore[misc]


def test_words_that_stand_in_files() -> None:
    assert [*Load] == ["rider", "passenger", "luggage", "fuel", "other"]
    assert [*Approach] == ["from-below", "from-above", "not-stated"]
    assert [*SagLength] == ["axle-to-tail", "exposed"]
    assert [*Source] == ["photo", "typed"]

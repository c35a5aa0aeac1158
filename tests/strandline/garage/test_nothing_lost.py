"""Photos that a garage has answered for, while its disk is full, its power is cut, or its notes are damaged."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest

from ridelog.names import LegName
from strandline.garage.photos import worker_job
from strandline.garage.photos.reading import PhotoReader
from strandline.garage.photos.store import PhotoStore, StoredPhoto, Subject
from strandline.garage.photos.worker_job import KeepJob, PhotoAnswer, PhotoJob
from strandline.garage.photos.workers import Workers
from strandline.garage.server.drafts import Drafts, RideDraft, SagDraft
from strandline.garage.settings import GarageSettings, Limits
from strandline.garage.views import uploads
from strandline.read.parse import ReadOptions, parse_options
from strandline.shared.files import OutputError, write_new
from tests.helpers.garage_server import BIKE, NO_CARD, filled, served


def waiting_photo(folder: Path) -> tuple[PhotoStore, StoredPhoto]:
    """Put a photo that was answered for, and not read yet, into a folder."""
    store = PhotoStore(folder)
    draft = folder / "draft.part"
    draft.write_bytes(NO_CARD.read_bytes())
    photo = StoredPhoto(
        store.new_id(), "", Subject(BIKE, LegName.FRONT_LEFT), "", "2026-06-02T10:00:00.000+00:00"
    )
    return store, store.add(photo, draft)


def reader_of(folder: Path, store: PhotoStore) -> PhotoReader:
    return PhotoReader(GarageSettings(folder / "logbook.sqlite"), store, Workers(Limits(), 1))


def full(*_: object, **__: object) -> None:
    raise OutputError("There is no room left.")


def test_a_reading_that_the_disk_does_not_take_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store, photo = waiting_photo(tmp_path / "photos")
    with monkeypatch.context() as patch:
        patch.setattr(store, "put", full)
        reader_of(tmp_path, store)._note(
            photo.id, PhotoAnswer("ab" * 32, (4, 3), None, "It is no photo.", "Send it.")
        )
    assert store.get(photo.id).problem == "It is no photo."  # shown meanwhile
    assert store.raw_path(photo.id).exists()
    (again,) = PhotoStore(tmp_path / "photos").waiting()
    assert again.id == photo.id and store.raw_path(photo.id).exists()


def test_the_photo_as_it_came_goes_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The power is cut while the reading is kept: the photo is still there to be read."""

    class Cut(BaseException):
        pass

    def cut(*_: object, **__: object) -> None:
        raise Cut

    store, photo = waiting_photo(tmp_path / "photos")
    monkeypatch.setattr(store, "put", cut)
    with pytest.raises(Cut):
        reader_of(tmp_path, store)._note(photo.id, PhotoAnswer("ab" * 32, (4, 3), None, "x", "y"))
    assert store.raw_path(photo.id).exists()


def test_a_photo_as_it_came_does_not_outlive_its_reading(tmp_path: Path) -> None:
    """The power is cut between the two: its place and its device are in it."""
    store, photo = waiting_photo(tmp_path / "photos")
    store.change(photo.id, problem="It is no photo.")
    assert store.raw_path(photo.id).exists()
    PhotoStore(tmp_path / "photos")
    assert not store.raw_path(photo.id).exists()


@pytest.mark.parametrize("at", [0, 1])
def test_a_worker_on_a_full_disk_loses_no_photo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    """Full when the photo is to be kept, or its picture."""
    store, photo = waiting_photo(tmp_path / "photos")
    places = (store.path(photo.id), store.picture_path(photo.id), store.drawn_path(photo.id))
    inputs = parse_options(ReadOptions(shaft="41.0 mm", layout="fork"))
    job = PhotoJob(store.raw_path(photo.id), *places, inputs, 50_000_000, 20)
    written = write_new

    def fills_up(path: Path, *rest: object, **more: object) -> None:
        if path == places[at]:
            full()
        written(path, *rest, **more)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(worker_job, "write_new", fills_up)
        answer = job.run()
    assert answer.is_to_be_read_again and "disk is full" in answer.problem
    reader_of(tmp_path, store)._note(photo.id, answer)
    assert "disk is full" in store.get(photo.id).problem
    assert [one.id for one in PhotoStore(tmp_path / "photos").waiting()] == [photo.id]
    assert job.run().record is not None  # with room again


def test_a_days_photo_on_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store, photo = waiting_photo(tmp_path / "photos")
    monkeypatch.setattr(worker_job, "make_folder", full)
    answer = KeepJob(store.raw_path(photo.id), tmp_path / "day" / "a.jpg", 20, 50_000_000).run()
    assert answer.is_to_be_read_again


def test_an_upload_to_a_full_disk_is_sent_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The phone keeps its photo: 507 is among the statuses after which it tries again (photos.js)."""

    def no_room(file: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    filled(tmp_path)
    monkeypatch.setattr(uploads, "_flush", no_room)
    with served(tmp_path) as garage:
        phone = garage.pair()
        answer = phone.send_photo(b"x" * 1_000)
        assert answer.status == 507 and "disk is full" in answer.text
        assert phone.get("/").status == 200
    assert list((tmp_path / "garage" / "photos").iterdir()) == []
    assert "Traceback" not in capsys.readouterr().err


DAMAGED = ["5", "null", "[]", '{"a": 1}', '"x"', '{"number": 1}', '{"number": "n", "note": 3}']
DAMAGED += ['{"number": "n", "typed": ["x"]}', '{"number": "n", "settings": [["front.preload"]]}']


@pytest.mark.parametrize("text", [*DAMAGED, '{"number": "n", "felt": [2]}'])
def test_a_damaged_note_of_a_ride_is_begun_anew(tmp_path: Path, text: str) -> None:
    (tmp_path / "b.json").write_text(text)
    assert Drafts(tmp_path, RideDraft).begun("b") is None
    (tmp_path / "b.json").write_text(text.replace("typed", "lengths").replace("note", "load"))
    assert Drafts(tmp_path, SagDraft).begun("b") is None or "settings" in text or "felt" in text


def test_a_note_with_what_was_said_is_taken(tmp_path: Path) -> None:
    drafts = Drafts(tmp_path, RideDraft)
    kept = drafts.change("b", note="wet", typed=(("rear", "70 mm"),), felt=("harsh",))
    assert Drafts(tmp_path, RideDraft).begun("b") == kept


@pytest.mark.parametrize(
    "field", ["arrived", "key", "who", "problem", "subject.bike", "subject.draft", "subject.print_scale"]
)
def test_a_photos_note_with_a_number_for_a_text_counts_as_none(tmp_path: Path, field: str) -> None:
    """Sorted and shown with the others, it would fail every page."""
    _, photo = waiting_photo(tmp_path / "photos")
    path = tmp_path / "photos" / f"{photo.id}.json"
    note = json.loads(path.read_text())
    assert len(PhotoStore(tmp_path / "photos")) == 1
    inner = note["subject"] if field.startswith("subject.") else note
    inner[field.removeprefix("subject.")] = 7
    path.write_text(json.dumps(note))
    assert len(PhotoStore(tmp_path / "photos")) == 0

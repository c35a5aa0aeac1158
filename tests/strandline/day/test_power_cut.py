"""The power goes while a day is read: every answer that was kept is there, and the run goes on (see tests/ridelog)."""

from __future__ import annotations

import random
import shutil
import sqlite3
from pathlib import Path

import pytest

from strandline.day.reading.jobs import Answer
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.store_file import FILE
from tests.helpers.apsw_connection import Connection
from tests.helpers.lost_writes import disk, image
from tests.helpers.made_day import MadeDay

PHOTOS = 6


def cut(tmp_path: Path, images: int) -> None:
    """Read a day, and open images of its file as they may be after a cut."""
    day = MadeDay(tmp_path / "day")
    for number in range(PHOTOS):
        day.put(f"front left/before/{number}.jpg")
    keep = ResultsStore.keep
    with disk("day") as made, pytest.MonkeyPatch.context() as patch:

        def kept(store: ResultsStore, sha256: str, answer: Answer) -> None:
            keep(store, sha256, answer)
            made.said(sha256)

        patch.setattr(ResultsStore, "keep", kept)
        patch.setattr(sqlite3, "connect", lambda name, **_: Connection(name, made.name))
        day.run()
    events = [one for one in made.events if one.name.startswith(FILE) or one.kind == "said"]
    assert sum(one.kind == "said" for one in events) == PHOTOS
    chance = random.Random(21)
    journals = 0
    for turn in range(images):
        until = chance.randrange(len(events) + 1)
        folder = tmp_path / str(turn)
        folder.mkdir()
        for name, content in image(events[:until], {}, chance).items():
            (folder / name).write_bytes(content)
            journals += name != FILE
        with ResultsStore(folder, day.request.program) as store:
            assert store.connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            found = store.kept("roster")
            assert found.sightings.keys() >= {one.name for one in events[:until] if one.kind == "said"}
            assert found.sightings.keys() == found.readings.keys()  # an answer whole or not at all
        shutil.rmtree(folder)
    assert journals > images / 8


def test_cut(tmp_path: Path) -> None:
    cut(tmp_path, 10)


@pytest.mark.long
def test_cut_often(tmp_path: Path) -> None:
    cut(tmp_path, 200)

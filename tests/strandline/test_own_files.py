"""A pipe in the place of a file that the program wrote itself: nothing waits for it, and it counts as none."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from ridelog.storage.store import Logbook
from strandline.bike.draft import load
from strandline.demo.samples import SamplesError, load_samples
from strandline.garage.marking.kept import marks_path, read_marks
from strandline.garage.marking.learning import Learning
from strandline.garage.photos.store import PhotoStore
from strandline.garage.server.day_watch import DayWatch
from strandline.garage.server.drafts import Drafts, RideDraft
from strandline.garage.server.session import Sessions
from suspension.quantities.lengths import Units
from tests.strandline.garage.test_nothing_lost import waiting_photo

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
LIMIT_S = 10.0


def pipe(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(path)
    return path


def marks(folder: Path) -> object:
    store, photo = waiting_photo(folder)
    pipe(marks_path(store, photo.id))
    return read_marks(store, photo.id)


def samples(folder: Path) -> object:
    pipe(folder / "photos.toml")
    with pytest.raises(SamplesError):
        load_samples(folder)
    return None


def learned(folder: Path) -> object:
    pipe(folder / "a.json")
    return Learning(folder).score().photos or None


def noted(folder: Path) -> object:
    pipe(folder / f"{'0' * 32}.json")
    return len(PhotoStore(folder)) or None


def upgraded(folder: Path) -> object:
    """Bring a logbook to this version: the copy that is kept gets another name."""
    folder.mkdir()
    path = folder / "logbook.sqlite"
    shutil.copy(Path(__file__).parents[1] / "ridelog" / "files" / "version-4.sqlite", path)
    pipe(path.with_name(f"{path.name}.version-4"))
    with Logbook.open(path):
        pass
    assert path.with_name(f"{path.name}.version-4-2").is_file()
    return None


WAYS: dict[str, Callable[[Path], object]] = {
    "answers": lambda folder: load(pipe(folder / "x.answers"))[0] or None,
    "drafts": lambda folder: pipe(folder / "b.json") and Drafts(folder, RideDraft).begun("b"),
    "phones": lambda folder: Sessions(pipe(folder / "phones.json")).phones() or None,
    "page of the day": lambda folder: (
        pipe(folder / "results" / "day.html") and DayWatch(folder, Units.MM).page()
    ),
    "marks": marks,
    "samples": samples,
    "learning": learned,
    "notes": noted,
    "upgrade": upgraded,
}


@pytest.mark.parametrize("way", WAYS)
def test_a_pipe_is_not_waited_for(tmp_path: Path, way: str) -> None:
    found: list[object] = []

    def look() -> None:
        found.append(WAYS[way](tmp_path / "own"))

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    thread.join(LIMIT_S)
    assert found == [None]

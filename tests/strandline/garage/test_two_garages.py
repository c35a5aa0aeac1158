"""Two programs on one logbook, and notes that another version of the program wrote."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.names import LegName
from strandline.garage.photos.store import PhotoStore, StoredPhoto, Subject
from strandline.garage.server.drafts import Drafts, RideDraft
from strandline.garage.server.garage import Garage
from strandline.garage.settings import GarageSettings
from strandline.mark.of_photo import PhotoToMark, Wanted
from strandline.shared.files import OutputError
from suspension.quantities.lengths import Units
from tests.helpers.garage_server import FORK, PATIENCE_S, ROOT, command, filled, free_port


def test_a_second_garage_on_a_logbook_is_refused(tmp_path: Path) -> None:
    """Both would read the photos that wait, and delete what is arriving at the other."""
    settings = GarageSettings(filled(tmp_path))
    first = Garage.of(settings)
    arriving = settings.folder / "photos" / f"{'a' * 32}.part"
    arriving.write_bytes(b"half of a photo")
    with pytest.raises(OutputError, match="open on this logbook already"):
        Garage.of(replace(settings, port=free_port()))
    assert arriving.exists()
    first.close()
    Garage.of(settings).close()


def test_the_command_says_so_and_a_killed_garage_locks_nobody_out(tmp_path: Path) -> None:
    logbook = filled(tmp_path)
    first = command(logbook, free_port())
    try:
        first.wait_until_open()
        words = [
            sys.executable,
            "-m",
            "strandline",
            "garage",
            "--port",
            str(free_port()),
            "--logbook",
            str(logbook),
        ]
        second = subprocess.run(
            words, capture_output=True, text=True, cwd=ROOT, check=False, timeout=PATIENCE_S
        )
        assert second.returncode == 1 and "Traceback" not in second.stderr
        assert "A garage is open on this logbook already" in second.stderr
    finally:
        first.kill()
    again = command(logbook, free_port())
    try:
        again.wait_until_open()
    finally:
        again.kill()


def test_a_photo_is_marked_beside_an_open_garage(tmp_path: Path) -> None:
    """It has a folder of its own, which goes with it."""
    settings = GarageSettings(filled(tmp_path))
    first = Garage.of(settings)
    wanted = Wanted(FORK, "sandpiper", "front-left", None, None, None, Units.MM, settings.logbook)
    with PhotoToMark.of(wanted) as marked:
        Garage.of(marked.settings).close()
        assert marked.made.exists() and marked.settings.folder != settings.folder
    assert not marked.made.exists()
    first.close()


def noted(folder: Path) -> tuple[PhotoStore, Path]:
    store = PhotoStore(folder)
    draft = folder / "draft.part"
    draft.write_bytes(FORK.read_bytes())
    subject = Subject("sandpiper", LegName.REAR, print_scale="0.996")
    photo = store.add(
        StoredPhoto(store.new_id(), "k", subject, "Ann", "2026-06-02T10:00:00.000+00:00"), draft
    )
    return store, folder / f"{photo.id}.json"


def test_a_photos_note_of_a_newer_version_is_read(tmp_path: Path) -> None:
    """After a downgrade: what this version does not know is passed over."""
    _, path = noted(tmp_path)
    note = json.loads(path.read_text())
    note["tilt_deg"], note["subject"]["side"] = 3.5, "left"
    path.write_text(json.dumps(note))
    (found,) = PhotoStore(tmp_path).photos()
    assert found.subject.print_scale == "0.996" and found.who == "Ann"


def test_a_photos_note_of_an_older_version_is_read(tmp_path: Path) -> None:
    """After an upgrade: what was not written then is as it is by default."""
    _, path = noted(tmp_path)
    note = json.loads(path.read_text())
    for name in ("by_hand", "by_hand_who", "by_hand_when", "size_px"):
        del note[name]
    for name in ("day_name", "print_scale", "approach"):
        del note["subject"][name]
    path.write_text(json.dumps(note))
    (found,) = PhotoStore(tmp_path).photos()
    assert found.subject == Subject("sandpiper", LegName.REAR) and found.is_waiting


def test_a_photo_whose_note_cannot_be_read_is_not_deleted(tmp_path: Path) -> None:
    _, path = noted(tmp_path)
    path.write_text("{}")
    assert len(PhotoStore(tmp_path)) == 0
    assert path.with_suffix(".raw").exists()


def test_a_rides_note_of_a_newer_version_is_read(tmp_path: Path) -> None:
    drafts = Drafts(tmp_path, RideDraft)
    kept = drafts.change("b", note="wet")
    path = tmp_path / "b.json"
    path.write_text(json.dumps({**json.loads(path.read_text()), "weather": {"wind": 3}}))
    assert Drafts(tmp_path, RideDraft).begun("b") == kept

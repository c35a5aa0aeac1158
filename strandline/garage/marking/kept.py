"""Marks that were kept: beside the photo, for its page; its reading by hand; and its picture, drawn again."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass, replace
from pathlib import Path

from strandline.day.reading.from_outcome import photo_record
from strandline.day.reading.records import PhotoRecord
from strandline.garage.marking.sight import Sight
from strandline.garage.marking.solve import Placed, measure
from strandline.garage.marking.wire import marks_fields, placed_from
from strandline.garage.photos.store import PhotoStore
from strandline.read.hand_marks import MarksError
from strandline.read.inputs import ReadInputs
from strandline.read.one_photo import outcome_of
from strandline.shared.files import read_own, write_new


def marks_path(store: PhotoStore, photo_id: str) -> Path:
    """Place of the marks of a photo; it is there once they were kept."""
    return store.path(photo_id).with_suffix(".marks")


def write_marks(store: PhotoStore, photo_id: str, placed: Placed) -> None:
    """Keep marks."""
    fields = {
        **marks_fields(placed.marks),
        "sd": placed.marks.sd_px,
        "set": sorted(placed.set_by_hand),
        "left_out": sorted(placed.left_out),
    }
    write_new(marks_path(store, photo_id), json.dumps(fields).encode(), force=True)


def read_marks(store: PhotoStore, photo_id: str) -> Placed | None:
    """Take up marks that were kept; None where there are none."""
    try:
        content = read_own(marks_path(store, photo_id)).encode()
        return placed_from(content, store.get(photo_id).size_px)
    except (OSError, ValueError, MarksError):
        return None


def record_by_hand(sight: Sight, inputs: ReadInputs, placed: Placed) -> PhotoRecord:
    """Give the record of what a hand marked.

    Raises
    ------
    MarksError
        Nothing is measured yet.
    """
    found = measure(sight, inputs, placed)
    outcome = outcome_of("", found.reading, inputs)
    if outcome.refused:
        why = outcome.messages[0].what if outcome.messages and not found.waits_for else "Marks are missing."
        raise MarksError(why, "Set the marks first.")
    return photo_record(outcome, inputs)


def now() -> str:
    """Give the time as the store writes it."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")


@dataclass(frozen=True)
class DrawJob:
    """Have a worker draw a reading by hand on its photo.

    Attributes
    ----------
    kept, drawn : Path
        The photo, and the picture that is written.
    sight : Sight
    inputs : ReadInputs
    placed : Placed
    """

    kept: Path
    drawn: Path
    sight: Sight
    inputs: ReadInputs
    placed: Placed

    def run(self) -> None:
        """Do it."""
        from calibration.photo import load_photo
        from strandline.read.overlays import overlay_jpeg

        photo = load_photo(self.kept)
        reading = measure(self.sight, self.inputs, self.placed).reading
        outcome = replace(outcome_of("", reading, self.inputs), sha256=photo.sha256)
        picture = overlay_jpeg(outcome, photo, self.inputs.units, self.inputs.leg.layout)
        write_new(self.drawn, picture, force=True)

"""Photos with a hand's truth, kept for learning where the owner says so; without place, device, name and time."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from calibration.photo_limits import MAX_HALVED_PIXELS
from strandline.day.reading.records import PhotoRecord
from strandline.garage.marking.solve import Placed
from strandline.garage.marking.wire import marks_fields
from strandline.read.inputs import ReadInputs
from strandline.shared.files import make_folder, read_own, write_new
from strandline.shared.without_place import MOST_SCANS_SENT, ending_of, without_place
from vision.names import LengthName

# EXIF's dates and times (CIPA DC-008, DateTime): the one thing that `without_place` leaves which a network needs not.
_TIME = re.compile(rb"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d")
_NO_TIME = b"0000:00:00 00:00:00"
# A length of the program's counts as right within this, mm, or within both uncertainties together: the project's own
# measure of a wrong length (docs/accuracy.md).
RIGHT_MM = 1.0
FORMAT = 1
READ_ME = """\
Photos with marks that a person set, kept by Strandline because the owner said so. NAME.json belongs to NAME.jpg or
NAME.heic: points in pixels of the upright photo, lengths in mm with their expanded uncertainty (k = 2), what the owner
declared of shaft, card and marker, and what the program had read. The photos' EXIF has no place, no device and no time;
look at the pictures themselves before you send the folder to anybody.
"""


@dataclass(frozen=True)
class Score:
    """How often the program was right, where a hand looked.

    Attributes
    ----------
    photos : int
    right, wrong, silent : int
        Lengths that the hand measured: answered rightly by the program, wrongly, or not at all.
    """

    photos: int = 0
    right: int = 0
    wrong: int = 0
    silent: int = 0


class Learning:
    """A folder of photos with a hand's truth.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._consent = folder / "kept-with-consent"

    @property
    def is_on(self) -> bool:
        """Whether the owner said so."""
        return self._consent.exists()

    def switch(self, on: bool) -> None:
        """Keep photos from now on, or no more; what is kept stays until the owner deletes it."""
        if on:
            make_folder(self.folder)
            self.folder.chmod(0o700)
            write_new(self.folder / "README.txt", READ_ME.encode(), force=True)
            write_new(self._consent, b"", force=True)
        else:
            self._consent.unlink(missing_ok=True)

    def keep(self, photo: Path, truth: dict[str, Any], name: str) -> None:
        """Keep a photo that was marked, in place of an earlier truth of the same photo; nothing where it is off."""
        if not self.is_on:
            return
        content = without_place(photo.read_bytes(), MOST_SCANS_SENT, MAX_HALVED_PIXELS)
        content = _TIME.sub(_NO_TIME, content)
        write_new(self.folder / f"{name}{ending_of(content)}", content, force=True)
        write_new(self.folder / f"{name}.json", json.dumps(truth, indent=1).encode(), force=True)

    def forget(self) -> None:
        """Delete all that was kept."""
        for path in self.folder.glob("*"):
            if path.suffix in (".json", ".jpg", ".heic"):
                path.unlink(missing_ok=True)

    def score(self) -> Score:
        """Count how often the program was right."""
        photos, counts = 0, {"right": 0, "wrong": 0, "silent": 0}
        for path in sorted(self.folder.glob("*.json")):
            try:
                verdicts = json.loads(read_own(path))["program"]["verdicts"]
                found = [counts.get(one) is not None and one for one in verdicts.values()]
            except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
                continue
            photos += 1
            for one in found:
                if one:
                    counts[one] += 1
        return Score(photos, **counts)


def truth_of(
    inputs: ReadInputs, placed: Placed, by_hand: PhotoRecord, own: PhotoRecord | None
) -> dict[str, Any]:
    """Write the truth of a photo as `training/by_hand.py` reads it.

    Parameters
    ----------
    inputs : ReadInputs
    placed : Placed
    by_hand : PhotoRecord
    own : PhotoRecord or None
        What the program had read.
    """
    width = inputs.marker.width_mm
    return {
        "format": FORMAT,
        "layout": inputs.leg.layout.value,
        "declared": {
            "shaft_diameter_mm": inputs.shaft_mm.value,
            "print_scale": [inputs.print.along, inputs.print.across],
            "marker": inputs.marker.kind.value,
            "marker_color": inputs.marker_color,
            "marker_width_mm": None if width is None else width.value,
        },
        "marks_px": marks_fields(placed.marks),
        "set_by_hand": sorted(placed.set_by_hand),
        "left_out": sorted(placed.left_out),
        "hand_sd_px": placed.marks.sd_px,
        **{name.field: _length(by_hand, name) for name in LengthName},
        "program": {
            **{name.field: _length(own, name) for name in LengthName},
            "reasons": [] if own is None else [one.code for one in own.reasons],
            "verdicts": verdicts(by_hand, own),
        },
    }


def verdicts(by_hand: PhotoRecord, own: PhotoRecord | None) -> dict[str, str]:
    """Say of each length that the hand measured whether the program was right, wrong or silent."""
    out = {}
    for name, truth in by_hand.lengths.items():
        read = None if own is None else own.lengths.get(name)
        if read is None:
            out[name.value] = "silent"
        else:
            limit = max(RIGHT_MM, (truth.u95**2 + read.u95**2) ** 0.5)
            out[name.value] = "right" if abs(read.value - truth.value) <= limit else "wrong"
    return out


def _length(record: PhotoRecord | None, name: LengthName) -> dict[str, float] | None:
    one = None if record is None else record.lengths.get(name)
    return None if one is None else {"value": round(one.value, 4), "u95": round(one.u95, 4)}

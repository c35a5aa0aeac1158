"""Messages between the run and its workers: a photo to be read, and its answer."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.day.identify.sighting import Sighting
from strandline.day.reading.records import ReadingRow

if TYPE_CHECKING:
    from strandline.day.identify.roster import Roster


@dataclass(frozen=True)
class Job:
    """One photo to be read.

    Attributes
    ----------
    path : Path
        Where it lies, also for a worker on another machine, unless `content` is sent along.
    parts : tuple of str
        Its folders below the day's folder and its name.
    sha256 : str
        What its content was when the job was made.
    roster : Roster
    sighting : Sighting or None
        Where its card was found before.
    known : frozenset of str
        Hashes of the options under which it was read before.
    content : bytes or None
        What is sent along of the file: the picture without place and device, so that its hash is another.
    """

    path: Path
    parts: tuple[str, ...]
    sha256: str
    roster: Roster
    sighting: Sighting | None = None
    known: frozenset[str] = frozenset()
    content: bytes | None = None


@dataclass(frozen=True)
class Answer:
    """The worker's answer for one photo.

    Attributes
    ----------
    sighting : Sighting
    thumb : bytes or None
        The photo, small, WebP without any EXIF.
    readings : tuple of ReadingRow
    changed : bool
        The file's content was no longer what the job named: nothing else in here counts.
    """

    sighting: Sighting
    thumb: bytes | None = None
    readings: tuple[ReadingRow, ...] = ()
    changed: bool = False

"""What is kept of one photo, as it passes between processes and into the day's file."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strandline.day.identify.sighting import Sighting
from strandline.read.inputs import ReadInputs

if TYPE_CHECKING:
    from strandline.day.identify.roster import Roster


@dataclass(frozen=True)
class ReadingRow:
    """A reading under one statement of what is known beforehand.

    Attributes
    ----------
    options_hash : str
        Hash of what was stated; see `hash_of_inputs`.
    record : str
        As ``strandline read --json`` writes it, without the photo's name.
    picture : bytes or None
        The overlay, reduced, WebP without any EXIF; None for a refused photo.
    """

    options_hash: str
    record: str
    picture: bytes | None

    @property
    def values(self) -> dict[str, Any]:
        """The record as plain values."""
        found: dict[str, Any] = json.loads(self.record)
        return found


@dataclass(frozen=True)
class Job:
    """One photo to be looked at.

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
        Where it was seen before.
    known : frozenset of str
        Statements under which it was read before.
    content : bytes or None
        The file's bytes, where they are sent along.
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
    """What came out.

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


@dataclass(frozen=True)
class Lost:
    """No answer: the worker had to be stopped, or stopped by itself.

    Attributes
    ----------
    kind : str
        "time", "memory" or "died".
    what : str
        In words.
    """

    kind: str
    what: str


def hash_of_inputs(inputs: ReadInputs) -> str:
    """Hash of what is known of a photo beforehand: all that its reading depends on besides photo and program."""
    text = json.dumps(asdict(inputs), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()

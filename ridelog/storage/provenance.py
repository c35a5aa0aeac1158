"""Where a kept value comes from, and the identifiers and times that rows have."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from enum import StrEnum

from ridelog.errors import RecordError
from ridelog.names import Basis


def new_id() -> str:
    """Make an identifier that no other row of any logbook has."""
    return uuid.uuid4().hex


def now_utc() -> str:
    """Give the time as the logbook writes it: UTC, ISO 8601, to the millisecond."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Source(StrEnum):
    """How a value came into the logbook."""

    PHOTO = "photo"
    TYPED = "typed"


@dataclass(frozen=True)
class Provenance:
    """Where a value comes from.

    Attributes
    ----------
    source : Source
    program_version : str
        Of the program that read or recorded it.
    basis : Basis
    photo_name, photo_sha256 : str or None
        Of a photo: its name and its content's hash.
    who : str or None
        Who typed or took it; optional.
    recorded_at : str
        UTC.
    by_hand : bool
        A person set the marks in the photo, and the program worked the lengths out from them.

    Raises
    ------
    RecordError
        A photo without its hash, or a typed value with one or with marks set by hand.
    """

    source: Source
    program_version: str
    basis: Basis = Basis.MEASURED
    photo_name: str | None = None
    photo_sha256: str | None = None
    who: str | None = None
    recorded_at: str = field(default_factory=now_utc)
    id: str = field(default_factory=new_id)
    by_hand: bool = False

    def __post_init__(self) -> None:
        of_photo = self.source is Source.PHOTO
        if of_photo != (self.photo_sha256 is not None) or of_photo != (self.photo_name is not None):
            raise RecordError(
                "A value from a photo needs the photo's name and hash, and a typed one has none.",
                "Give both, or say that it was typed.",
            )
        if self.by_hand and not of_photo:
            raise RecordError("Marks are set by hand in a photo.", "Say which photo.")

"""Sag sessions as the logbook keeps them; see `records`."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum

from logbook.names import LegName
from logbook.records import Provenance, new_id
from suspension.measured import MeasuredLength
from suspension.states import State


class Approach(StrEnum):
    """From where the bike settled before a length was taken; the two together cancel friction."""

    FROM_BELOW = "from-below"
    FROM_ABOVE = "from-above"
    NOT_STATED = "not-stated"


class SagLength(StrEnum):
    """What was measured."""

    AXLE_TO_TAIL = "axle-to-tail"
    EXPOSED = "exposed"


@dataclass(frozen=True)
class SagMeasurement:
    """One length of a session; `place` is an end for axle to tail, a leg for an exposed length."""

    place: LegName
    what: SagLength
    state: State
    length: MeasuredLength
    provenance: Provenance
    approach: Approach = Approach.NOT_STATED
    sag_session_id: str = ""
    id: str = field(default_factory=new_id)


@dataclass(frozen=True)
class SagSession:
    """Lengths taken to find sag, in one go; a correction is another session with all of them."""

    date: dt.date
    bike_version_id: str
    provenance: Provenance
    measurements: tuple[SagMeasurement, ...] = ()
    load_case_id: str | None = None
    note: str | None = None
    bike_id: str = ""
    replaces: str | None = None
    withdrawn: bool = False
    id: str = field(default_factory=new_id)

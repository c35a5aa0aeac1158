"""Sag sessions in the log: whole or not at all, each length under its approach."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from ridelog.errors import RecordError
from ridelog.names import LegName
from ridelog.storage.records import (
    Approach,
    Provenance,
    SagLength,
    SagMeasurement,
    SagSession,
    Source,
    new_id,
)
from ridelog.storage.store import Logbook
from suspension.stroke.leg import State
from tests.helpers.made_records import TYPED, entry, length, new_logbook, put_bike, put_sag

TABLES = ("provenance", "sag_session", "sag_measurement")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with new_logbook(tmp_path) as logbook:
        yield logbook


def measured(state: State, value: float, approach: Approach) -> SagMeasurement:
    return SagMeasurement(
        LegName.REAR, SagLength.AXLE_TO_TAIL, state, length(value), TYPED, approach=approach
    )


def rows(book: Logbook) -> dict[str, int]:
    return {table: book.connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in TABLES}


def test_a_session_that_fails_half_way_leaves_nothing(book: Logbook) -> None:
    """The last length's state is one that the schema refuses; the lengths before it must go with it."""
    version = put_bike(book)
    origin = Provenance(Source.TYPED, "0.0-test", who="another")
    lengths = (
        measured(State.HANGING, 600.0, Approach.NOT_STATED),
        measured(State.ON_WHEELS, 590.0, Approach.FROM_BELOW),
        measured(State.UNKNOWN, 580.0, Approach.FROM_BELOW),
    )
    before = rows(book)
    with pytest.raises(RecordError, match="refuses this record"):
        book.sag.add(version.bike_id, SagSession(entry(version).date, version.id, origin, lengths))
    assert rows(book) == before
    assert book.sag.current(version.bike_id) == ()


def test_a_correction_that_fails_leaves_the_session_that_it_corrects(book: Logbook) -> None:
    kept = put_sag(book)
    better = replace(
        kept,
        id=new_id(),
        replaces=kept.id,
        measurements=(replace(kept.measurements[0], id=new_id(), state=State.UNKNOWN),),
    )
    with pytest.raises(RecordError):
        book.sag.add(kept.bike_id, better)
    assert book.sag.current(kept.bike_id) == (kept,)


def test_each_length_keeps_its_approach(book: Logbook) -> None:
    version = put_bike(book)
    lengths = (
        measured(State.HANGING, 600.0, Approach.NOT_STATED),
        measured(State.ON_WHEELS, 586.0, Approach.FROM_BELOW),
        measured(State.ON_WHEELS, 590.0, Approach.FROM_ABOVE),
    )
    book.sag.add(version.bike_id, SagSession(entry(version).date, version.id, TYPED, lengths))
    stored = dict(book.connection.execute("SELECT approach, length_mm FROM sag_measurement").fetchall())
    assert stored == {"not-stated": 600.0, "from-below": 586.0, "from-above": 590.0}
    (session,) = book.sag.current(version.bike_id)
    assert {one.approach: one.length_mm.value for one in session.measurements} == {
        Approach.NOT_STATED: 600.0,
        Approach.FROM_BELOW: 586.0,
        Approach.FROM_ABOVE: 590.0,
    }


def test_sessions_come_by_their_dates(book: Logbook) -> None:
    version = put_bike(book)
    for day in (3, 1, 2):
        one = (measured(State.HANGING, 600.0 + day, Approach.NOT_STATED),)
        book.sag.add(version.bike_id, SagSession(entry(version, day).date, version.id, TYPED, one))
    found = [session.measurements[0].length_mm.value for session in book.sag.current(version.bike_id)]
    assert found == [601.0, 602.0, 603.0]

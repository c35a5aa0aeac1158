"""Records and rows: every field goes into its own column, and comes back as it was."""

from __future__ import annotations

import dataclasses
import datetime as dt
import sqlite3
from contextlib import closing
from typing import Any

import pytest

from ridelog.names import AdjusterKind, Basis, Confidence, CountedFrom, End, Felt, LegName
from ridelog.storage import records
from ridelog.storage.connection import migrate, open_raw
from ridelog.storage.records import Provenance, Reading, RideEntry, Source
from ridelog.storage.rows import TABLES, columns, insert, record, select_with_provenance
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import State
from suspension.stroke.marker import LockFacing, MarkerKind

ORIGIN = Provenance(
    Source.PHOTO,
    "1.2.3",
    Basis.MANUAL,
    "IMG 1.jpg",
    "cd" * 32,
    "A. Tester",
    "2026-05-01T10:20:30.000Z",
    "a" * 32,
    True,
)
# Every number is another one, so that no two columns can be swapped unseen; u95 is twice sigma.
READING = Reading(
    LegName.REAR_LEFT,
    ORIGIN,
    State.RIDER_ABOARD,
    exposed_mm=Quantity(175.0, 0.1),
    marker_mm=Quantity(62.0, 0.2),
    remaining_mm=Quantity(113.0, 0.3),
    at_stop=False,
    marker_kind=MarkerKind.TIE,
    marker_lock=LockFacing.MEETS_SEAL,
    marker_width_mm=Quantity(3.6, 0.05),
    reset_compression_mm=Quantity(12.0, 0.4),
    exposed_marker_mm2=0.011,
    exposed_remaining_mm2=0.022,
    marker_remaining_mm2=-0.033,
    ride_id="b" * 32,
    replaces="c" * 32,
    withdrawn=True,
    id="d" * 32,
)
READING_ROW = {
    "id": "d" * 32,
    "ride_id": "b" * 32,
    "leg": "rear-left",
    "state": "rider-aboard",
    "exposed_mm": 175.0,
    "exposed_u95_mm": 0.2,
    "marker_mm": 62.0,
    "marker_u95_mm": 0.4,
    "remaining_mm": 113.0,
    "remaining_u95_mm": 0.6,
    "at_stop": 0,
    "marker_kind": "tie",
    "marker_lock": "meets-seal",
    "marker_width_mm": 3.6,
    "marker_width_u95_mm": 0.1,
    "reset_compression_mm": 12.0,
    "reset_compression_u95_mm": 0.8,
    "exposed_marker_mm2": 0.011,
    "exposed_remaining_mm2": 0.022,
    "marker_remaining_mm2": -0.033,
    "provenance_id": "a" * 32,
    "replaces": "c" * 32,
    "withdrawn": 1,
}
ORIGIN_ROW = {
    "from_source": "photo",
    "from_program_version": "1.2.3",
    "from_basis": "manual",
    "from_photo_name": "IMG 1.jpg",
    "from_photo_sha256": "cd" * 32,
    "from_who": "A. Tester",
    "from_recorded_at": "2026-05-01T10:20:30.000Z",
    "from_id": "a" * 32,
    "from_by_hand": 1,
}


def row_of(values: dict[str, Any]) -> sqlite3.Row:
    """Make a row as SQLite gives it."""
    with closing(open_raw(":memory:")) as connection:
        names = ", ".join(f"? AS {name}" for name in values)
        row: sqlite3.Row = connection.execute(f"SELECT {names}", tuple(values.values())).fetchone()
    return row


def test_a_reading_and_its_row() -> None:
    assert columns(READING) == READING_ROW
    assert record(Reading, row_of({**READING_ROW, **ORIGIN_ROW})) == READING


@pytest.mark.parametrize(
    "name", [f"{name}_mm" for name in ("exposed", "marker", "remaining", "marker_width")]
)
def test_a_length_that_was_not_measured_is_null_with_its_uncertainty(name: str) -> None:
    gone: dict[str, Any] = {name: None}
    without = dataclasses.replace(READING, **gone)
    row = columns(without)
    u95 = name.replace("_mm", "_u95_mm")
    assert (row[name], row[u95]) == (None, None)
    assert {key: value for key, value in row.items() if key not in (name, u95)} == {
        key: value for key, value in READING_ROW.items() if key not in (name, u95)
    }
    assert record(Reading, row_of({**row, **ORIGIN_ROW})) == without


def test_dates_words_and_parts_of_other_tables() -> None:
    entry = RideEntry(
        dt.date(2026, 2, 3), "e" * 32, ORIGIN, route="Ridge", felt=(Felt.HARSH,), temperature_c=-4.5
    )
    row = columns(entry)
    assert row["date"] == "2026-02-03" and row["temperature_c"] == -4.5 and "felt" not in row
    assert record(RideEntry, row_of({**row, **ORIGIN_ROW}), felt=(Felt.HARSH,)) == entry


def test_every_record_has_the_columns_of_its_table() -> None:
    """The schema is what migrations made; ride has no record of its own, and felt is part of an entry."""
    made = {
        records.Provenance: ORIGIN,
        records.StoredBike: records.StoredBike("x", ORIGIN),
        records.BikeVersion: records.BikeVersion("b", "t", "s", ORIGIN),
        records.LoadCase: records.LoadCase("solo", ORIGIN),
        records.LoadItem: records.LoadItem(records.Load.RIDER, ORIGIN),
        records.AxleLoad: records.AxleLoad(End.FRONT, Quantity(100.0, 0.5), ORIGIN),
        records.RideEntry: RideEntry(dt.date(2026, 2, 3), "e", ORIGIN),
        records.Setting: records.Setting(
            LegName.REAR,
            "preload",
            AdjusterKind.CLICKS,
            CountedFrom.SOFT,
            ORIGIN,
            None,
            confidence=Confidence.UNKNOWN,
        ),
        records.Reading: READING,
        records.SagSession: records.SagSession(dt.date(2026, 2, 3), "e", ORIGIN),
        records.SagMeasurement: records.SagMeasurement(
            LegName.REAR, records.SagLength.EXPOSED, State.HANGING, Quantity(80.0, 0.25), ORIGIN
        ),
        records.SagSetting: records.SagSetting(
            LegName.REAR, "preload", AdjusterKind.CLICKS, CountedFrom.SOFT, ORIGIN, 4.0
        ),
    }
    assert made.keys() == TABLES.keys()
    with closing(open_raw(":memory:")) as connection:
        migrate(connection)
        for kind, one in made.items():
            info = connection.execute(f"PRAGMA table_info({TABLES[kind]})")
            assert set(columns(one)) == {row["name"] for row in info}, kind


def test_a_query_gives_a_row_and_its_provenance() -> None:
    with closing(open_raw(":memory:")) as connection:
        migrate(connection)
        insert(connection, "provenance", columns(ORIGIN))
        bike = records.StoredBike("Grey twin", ORIGIN)
        insert(connection, "bike", columns(bike))
        query = select_with_provenance(records.StoredBike, "bike.name = ?")
        (row,) = connection.execute(query, ("Grey twin",))
        assert record(records.StoredBike, row) == bike
        assert connection.execute(query, ("Red one",)).fetchall() == []


def test_masses_and_places() -> None:
    item = records.LoadItem(records.Load.RIDER, ORIGIN, Quantity(84.0, 0.5), Quantity(790.0, 25.0))
    row = columns(item)
    assert (row["mass_kg"], row["mass_u95_kg"], row["aft_mm"], row["aft_u95_mm"]) == (84.0, 1.0, 790.0, 50.0)
    assert record(records.LoadItem, row_of({**row, **ORIGIN_ROW})) == item
    scale = records.AxleLoad(End.REAR, Quantity(160.0, 0.5), ORIGIN)
    row = columns(scale)
    assert (row["mass_kg"], row["mass_u95_kg"], row["axle"]) == (160.0, 1.0, "rear")
    assert record(records.AxleLoad, row_of({**row, **ORIGIN_ROW})) == scale


def test_half_a_pair_is_not_a_length() -> None:
    row = {**READING_ROW, **ORIGIN_ROW, "exposed_u95_mm": None}
    assert record(Reading, row_of(row)).exposed_mm is None

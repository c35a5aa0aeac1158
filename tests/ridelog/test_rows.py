"""Records as rows of the tables and back, by known numbers: a column is a field's name, u95 is twice sigma."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

from ridelog.names import End
from ridelog.storage.records import AxleLoad, Load, LoadItem, Reading
from ridelog.storage.rows import columns, record
from suspension.quantities.quantity import Quantity
from tests.helpers.made_records import PHOTO, TYPED, fork_reading


def as_row(values: dict[str, object]) -> sqlite3.Row:
    connection = sqlite3.connect(":memory:")
    connection.row_factory = sqlite3.Row
    names = ", ".join(f"? AS {name}" for name in values)
    row: sqlite3.Row = connection.execute(f"SELECT {names}", tuple(values.values())).fetchone()
    return row


def test_a_readings_lengths_and_their_expanded_uncertainties() -> None:
    row = columns(fork_reading(PHOTO))
    assert {name: row[name] for name in row if name.endswith("_mm")} == {
        "exposed_mm": 175,
        "exposed_u95_mm": 0.5,
        "marker_mm": 62,
        "marker_u95_mm": 0.5,
        "remaining_mm": 113,
        "remaining_u95_mm": 0.5,
        "marker_width_mm": 3.6,
        "marker_width_u95_mm": 0.1,
        "reset_compression_mm": None,
        "reset_compression_u95_mm": None,
    }
    back = record(Reading, as_row(row), provenance=PHOTO)
    assert back == replace(fork_reading(PHOTO), id=row["id"])
    assert back.exposed_mm == Quantity(175, 0.25) and back.marker_width_mm == Quantity(3.6, 0.05)


def test_masses_and_places() -> None:
    item = LoadItem(Load.RIDER, TYPED, Quantity(84.0, 0.5), Quantity(790.0, 25.0))
    row = columns(item)
    assert (row["mass_kg"], row["mass_u95_kg"], row["aft_mm"], row["aft_u95_mm"]) == (84.0, 1.0, 790.0, 50.0)
    assert record(LoadItem, as_row(row), provenance=TYPED) == item
    scale = AxleLoad(End.REAR, Quantity(160.0, 0.5), TYPED)
    row = columns(scale)
    assert (row["mass_kg"], row["mass_u95_kg"], row["axle"]) == (160.0, 1.0, "rear")
    assert record(AxleLoad, as_row(row), provenance=TYPED) == scale


def test_half_a_pair_is_not_a_length() -> None:
    row = {**columns(fork_reading()), "exposed_u95_mm": None}
    assert record(Reading, as_row(row), provenance=TYPED).exposed_mm is None

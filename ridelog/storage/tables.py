"""What the parts of the logbook share: queries, records with their provenance, load cases."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

from ridelog.storage.connection import snapshot, told, transaction
from ridelog.storage.records import AxleLoad, LoadCase, LoadItem, Provenance
from ridelog.storage.rows import TABLES, columns, insert, record

CURRENT = "NOT EXISTS (SELECT 1 FROM {0} AS newer WHERE newer.replaces = {0}.id)"
"""Condition on a table: nothing has taken this row's place."""


class Table:
    """What the parts of the logbook share."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.connection = connection
        self.path = path

    def provenance(self, identifier: str) -> Provenance:
        """Find where a value comes from."""
        return record(Provenance, self.one("SELECT * FROM provenance WHERE id = ?", identifier))

    def one(self, query: str, *values: object) -> sqlite3.Row:
        """The one row of a query."""
        found: sqlite3.Row = self.connection.execute(query, values).fetchone()
        return found

    def all(self, query: str, *values: object) -> list[sqlite3.Row]:
        """All rows of a query."""
        return self.connection.execute(query, values).fetchall()

    def put(self, row: object) -> None:
        """Insert a record, and its provenance where that is not there yet."""
        origin: Provenance = row.provenance  # type: ignore[attr-defined]
        if self.one("SELECT 1 FROM provenance WHERE id = ?", origin.id) is None:
            insert(self.connection, "provenance", columns(origin))
        insert(self.connection, TABLES[type(row)], columns(row))


class Loads(Table):
    """Load cases: rides keep to the one that was in force."""

    def current(self, bike_id: str) -> tuple[LoadCase, ...]:
        """The load cases of a bike, corrections applied."""
        with told(self.path), snapshot(self.connection):
            rows = self.all(
                f"SELECT * FROM load_case WHERE bike_id = ? AND withdrawn = 0 AND {CURRENT.format('load_case')} "
                "ORDER BY rowid",
                bike_id,
            )
            return tuple(self._whole(row) for row in rows)

    def find(self, bike_id: str, name: str) -> LoadCase | None:
        """The load case of this name."""
        return next((one for one in self.current(bike_id) if one.name == name), None)

    def get(self, identifier: str) -> LoadCase:
        """A load case by its identifier, replaced or not."""
        with told(self.path), snapshot(self.connection):
            return self._whole(self.one("SELECT * FROM load_case WHERE id = ?", identifier))

    def named(self, bike_id: str, name: str, provenance: Provenance) -> LoadCase:
        """The load case of this name; a new one, of which only the name is known, where there is none."""
        with told(self.path), transaction(self.connection):
            found = self.find(bike_id, name)
            if found is None:
                found = LoadCase(name, provenance, bike_id=bike_id)
                self.put(found)
            return found

    def put_case(self, bike_id: str, case: LoadCase) -> LoadCase:
        """Keep a load case; one of the same name is replaced, not changed.

        Returns
        -------
        LoadCase
            As kept.
        """
        with told(self.path), transaction(self.connection):
            before = self.one(
                f"SELECT id FROM load_case WHERE bike_id = ? AND name = ? AND {CURRENT.format('load_case')}",
                bike_id,
                case.name,
            )
            kept = replace(
                case,
                bike_id=bike_id,
                replaces=None if before is None else before["id"],
                items=tuple(replace(item, load_case_id=case.id) for item in case.items),
                axle_loads=tuple(replace(load, load_case_id=case.id) for load in case.axle_loads),
            )
            self.put(kept)
            for part in (*kept.items, *kept.axle_loads):
                self.put(part)
            return kept

    def _whole(self, row: sqlite3.Row) -> LoadCase:
        items = self.all("SELECT * FROM load_item WHERE load_case_id = ? ORDER BY rowid", row["id"])
        loads = self.all("SELECT * FROM axle_load WHERE load_case_id = ? ORDER BY rowid", row["id"])
        return record(
            LoadCase,
            row,
            self.provenance,
            items=tuple(record(LoadItem, one, self.provenance) for one in items),
            axle_loads=tuple(record(AxleLoad, one, self.provenance) for one in loads),
        )

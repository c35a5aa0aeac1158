"""What the parts of the logbook share: queries, records with their provenance, load cases."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Protocol, TypeVar

from ridelog.storage.connection import snapshot, transaction, translate_sqlite_errors
from ridelog.storage.records import AxleLoad, LoadCase, LoadItem, Provenance
from ridelog.storage.rows import TABLES, columns, insert, record, select_with_provenance

R = TypeVar("R")

CURRENT = "NOT EXISTS (SELECT 1 FROM {0} AS newer WHERE newer.replaces = {0}.id)"
"""Condition on a table: nothing has taken this row's place."""


class WithProvenance(Protocol):
    """A record that says where its values come from."""

    @property
    def provenance(self) -> Provenance: ...


class Table:
    """What the parts of the logbook share."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.connection = connection
        self.path = path

    def one(self, query: str, *values: object) -> sqlite3.Row:
        """Find the one row of a query."""
        found: sqlite3.Row = self.connection.execute(query, values).fetchone()
        return found

    def all(self, query: str, *values: object) -> list[sqlite3.Row]:
        """All rows of a query."""
        return self.connection.execute(query, values).fetchall()

    def rows(self, kind: type, where: str, *values: object) -> list[sqlite3.Row]:
        """Find a record's rows, in the order of insertion, each with its provenance; one query."""
        return self.all(select_with_provenance(kind, where), *values)

    def records(self, kind: type[R], where: str, *values: object) -> tuple[R, ...]:
        """Find records that stand in one table."""
        return tuple(record(kind, row) for row in self.rows(kind, where, *values))

    def put(self, *rows: WithProvenance) -> None:
        """Insert records, and their provenances where these are not there yet, which one query finds out."""
        origins = {row.provenance.id: row.provenance for row in rows}
        marks = ", ".join("?" for _ in origins)
        there = {one["id"] for one in self.all(f"SELECT id FROM provenance WHERE id IN ({marks})", *origins)}
        for key, origin in origins.items():
            if key not in there:
                insert(self.connection, "provenance", columns(origin))
        for row in rows:
            insert(self.connection, TABLES[type(row)], columns(row))


class Loads(Table):
    """Load cases: rides keep to the one that was in force."""

    def current(self, bike_id: str) -> tuple[LoadCase, ...]:
        """Find the load cases of a bike, corrections applied."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            return self.whole(f"bike_id = ?1 AND withdrawn = 0 AND {CURRENT.format('load_case')}", bike_id)

    def find(self, bike_id: str, name: str) -> LoadCase | None:
        """Find the load case of this name."""
        return next((one for one in self.current(bike_id) if one.name == name), None)

    def get(self, identifier: str) -> LoadCase:
        """Find a load case by its identifier, replaced or not."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            (found,) = self.whole("load_case.id = ?1", identifier)
            return found

    def names(self, bike_id: str) -> dict[str, str]:
        """Names of a bike's load cases by their identifiers, replaced or not."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            rows = self.all("SELECT id, name FROM load_case WHERE bike_id = ?", bike_id)
            return {row["id"]: row["name"] for row in rows}

    def named(self, bike_id: str, name: str, provenance: Provenance) -> LoadCase:
        """Find the load case of this name, or keep a new one of which only the name is known."""
        with translate_sqlite_errors(self.path), transaction(self.connection):
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
        with translate_sqlite_errors(self.path), transaction(self.connection):
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
            self.put(*kept.items, *kept.axle_loads)
            return kept

    def whole(self, where: str, *values: object) -> tuple[LoadCase, ...]:
        """Find load cases with what they are made of, in three queries; `where` takes numbered values."""
        of_cases = f"load_case_id IN (SELECT load_case.id FROM load_case WHERE {where})"
        items, loads = defaultdict(list), defaultdict(list)
        for item in self.records(LoadItem, of_cases, *values):
            items[item.load_case_id].append(item)
        for load in self.records(AxleLoad, of_cases, *values):
            loads[load.load_case_id].append(load)
        return tuple(
            record(LoadCase, row, items=tuple(items[row["id"]]), axle_loads=tuple(loads[row["id"]]))
            for row in self.rows(LoadCase, where, *values)
        )

"""What the parts of the logbook share: queries, records with their provenance, load cases."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Protocol, TypeVar

from ridelog.errors import RecordError
from ridelog.storage.connection import snapshot, transaction, translate_sqlite_errors
from ridelog.storage.folded_names import current_names, fold
from ridelog.storage.records import AxleLoad, LoadCase, LoadItem, Provenance, new_id
from ridelog.storage.rows import TABLES, columns, insert, record, select_with_provenance

R = TypeVar("R")

CURRENT = "NOT EXISTS (SELECT 1 FROM {0} AS newer WHERE newer.replaces = {0}.id)"
"""Condition on a table: nothing has taken this row's place."""


LONGEST_NAME = 200
"""Characters of a load's name, which stands in tables and charts."""


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
            found = self.whole(f"bike_id = ?1 AND withdrawn = 0 AND {CURRENT.format('load_case')}", bike_id)
            names = self.names(bike_id)
        by_name: dict[str, LoadCase] = {}
        for one in found:
            # a logbook of an earlier version may hold "Solo" and "solo": the one whose parts are known stands for both
            before = by_name.get(names[one.id])
            if before is None or not (before.items or before.axle_loads):
                by_name[names[one.id]] = replace(one, name=names[one.id])
        return tuple(by_name.values())

    def find(self, bike_id: str, name: str) -> LoadCase | None:
        """Find the load case of this name, case and spaces folded."""
        return next((one for one in self.current(bike_id) if fold(one.name) == fold(name)), None)

    def get(self, identifier: str) -> LoadCase:
        """Find a load case by its identifier, replaced or not."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            (found,) = self.whole("load_case.id = ?1", identifier)
            return found

    def names(self, bike_id: str) -> dict[str, str]:
        """Names that a bike's load cases have now, by their identifiers, replaced or not."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            query = "SELECT id, name, replaces FROM load_case WHERE bike_id = ? ORDER BY rowid"
            return current_names([dict(row) for row in self.all(query, bike_id)])

    def named(self, bike_id: str, name: str, provenance: Provenance) -> LoadCase:
        """Find the load case of this name, or keep a new one of which only the name is known.

        Raises
        ------
        RecordError
            The name is too long, or was that of a load which was renamed since.
        """
        _refuse_long(name)
        with translate_sqlite_errors(self.path), transaction(self.connection):
            found = self.find(bike_id, name)
            if found is None:
                retired = self._retired(bike_id, name)
                own = name if retired is None else self.names(bike_id)[retired]
                found = LoadCase(" ".join(own.split()), provenance, bike_id=bike_id, replaces=retired)
                self.put(found)
            return found

    def _retired(self, bike_id: str, name: str) -> str | None:
        """Find the row of a retired load of this name, which is taken up again.

        Raises
        ------
        RecordError
            The name was that of a load which was renamed since.
        """
        rows = self.all(
            f"SELECT id, name FROM load_case WHERE bike_id = ? AND withdrawn = 1 AND {CURRENT.format('load_case')}",
            bike_id,
        )
        found = next((str(row["id"]) for row in rows if fold(row["name"]) == fold(name)), None)
        if found is None:
            names = self.names(bike_id)
            firsts = self.all(
                "SELECT id, name FROM load_case WHERE bike_id = ? AND replaces IS NULL", bike_id
            )
            taken = next((row["id"] for row in firsts if fold(row["name"]) == fold(name)), None)
            if taken is not None:
                raise RecordError(
                    f"{name} is what the load {names[taken]} was called before.", "Choose another name."
                )
        return found

    def rename(self, bike_id: str, name: str, new: str, provenance: Provenance) -> LoadCase:
        """Give a load case another name, for its earlier rides too; the row with the old name stays.

        Raises
        ------
        RecordError
            There is no such load case, or another one has the new name.
        """
        _refuse_long(new)
        with translate_sqlite_errors(self.path), transaction(self.connection):
            case = self._known(bike_id, name)
            new = " ".join(new.split())
            other = self.find(bike_id, new)
            if not new or (other is not None and other.id != case.id):
                raise RecordError(f"The name {new or 'given'} cannot be taken.", "Choose another name.")
            return self._put_after(case, replace(case, name=new, provenance=provenance))

    def retire(self, bike_id: str, name: str, provenance: Provenance) -> LoadCase:
        """Take a load case out of the list; its rides keep it, and a ride with its name takes it up again.

        Raises
        ------
        RecordError
            There is no such load case.
        """
        with translate_sqlite_errors(self.path), transaction(self.connection):
            case = self._known(bike_id, name)
            return self._put_after(case, replace(case, withdrawn=True, provenance=provenance))

    def _known(self, bike_id: str, name: str) -> LoadCase:
        found = self.find(bike_id, name)
        if found is None:
            raise RecordError(f"There is no load {name}.", "strandline loads shows their names.")
        return found

    def _put_after(self, before: LoadCase, case: LoadCase) -> LoadCase:
        """Keep a row that takes the place of another, with copies of its parts."""
        key = new_id()
        kept = replace(
            case,
            id=key,
            replaces=before.id,
            items=tuple(replace(item, id=new_id(), load_case_id=key) for item in case.items),
            axle_loads=tuple(replace(load, id=new_id(), load_case_id=key) for load in case.axle_loads),
        )
        self.put(kept)
        self.put(*kept.items, *kept.axle_loads)
        return kept

    def put_case(self, bike_id: str, case: LoadCase) -> LoadCase:
        """Keep a load case; one of the same name is replaced, not changed.

        Returns
        -------
        LoadCase
            As kept.
        """
        _refuse_long(case.name)
        with translate_sqlite_errors(self.path), transaction(self.connection):
            before = self.find(bike_id, case.name)
            kept = replace(
                case,
                name=" ".join(case.name.split()) if before is None else before.name,
                bike_id=bike_id,
                replaces=self._retired(bike_id, case.name) if before is None else before.id,
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


def _refuse_long(name: str) -> None:
    if len(name) > LONGEST_NAME:
        raise RecordError(f"The load's name has {len(name)} characters.", f"Write at most {LONGEST_NAME}.")

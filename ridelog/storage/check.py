"""Is a logbook sound? SQLite's own checks, the schema, and what must hold between rows."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from ridelog.bikes.file import parse_bike
from ridelog.errors import LogbookError
from ridelog.storage.connection import (
    VERSION,
    migrate,
    open_raw,
    schema_version,
    snapshot,
    translate_sqlite_errors,
)
from ridelog.storage.readable import bad_rows
from ridelog.storage.store import Logbook

CHAINED = ("load_case", "ride_entry", "setting", "reading", "sag_session")
"""Tables whose rows may be corrected."""


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong: what was checked, and what was found."""

    check: str
    what: str


@dataclass(frozen=True)
class Report:
    """The outcome of a check.

    Attributes
    ----------
    version : int
        Schema version.
    rows : dict of str to int
        How many rows each table holds.
    findings : tuple of Finding
        Empty where all is well.
    """

    version: int
    rows: dict[str, int]
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.findings


def check(logbook: Logbook) -> Report:
    """Check an open logbook; nothing is changed.

    Parameters
    ----------
    logbook : Logbook

    Raises
    ------
    FileError
        So damaged that it cannot be read.
    """
    connection = logbook.connection
    with translate_sqlite_errors(logbook.path), snapshot(connection):
        findings = [*_sqlite(connection), *_schema(connection)]
        if not findings:  # in a damaged file the rest would only add noise
            findings += [*_chains(connection), *_rides(connection), *_bikes(connection)]
            findings += [Finding(one.check, one.what) for one in bad_rows(connection)]
        return Report(schema_version(connection), _counts(connection), tuple(findings))


def _sqlite(connection: sqlite3.Connection) -> list[Finding]:
    found = [
        Finding("integrity", row[0]) for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"
    ]
    for table, rowid, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        found.append(
            Finding("references", f"{table}, row {rowid}, names a row of {parent} that is not there")
        )
    return found


def _schema(connection: sqlite3.Connection) -> list[Finding]:
    """Compare with a new logbook: tables, indexes and the triggers that keep rows from being changed."""
    version = schema_version(connection)
    if version != VERSION:
        return [Finding("schema", f"schema version {version}, not {VERSION}")]
    fresh = open_raw(":memory:")
    try:
        migrate(fresh)
        right, here = _objects(fresh), _objects(connection)
    finally:
        fresh.close()
    lost = [Finding("schema", f"the {key[0]} {key[1]} is missing") for key in right if key not in here]
    other = [
        Finding("schema", f"the {key[0]} {key[1]} is not as it was made")
        for key in right
        if key in here and here[key] != right[key]
    ]
    extra = [
        Finding("schema", f"the {key[0]} {key[1]} does not belong here") for key in here if key not in right
    ]
    return [*lost, *other, *extra]


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = connection.execute("SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'")
    return {(kind, name): " ".join((sql or "").split()) for kind, name, sql in rows}


def _chains(connection: sqlite3.Connection) -> list[Finding]:
    """Corrections lead back to a first row, without a loop."""
    found = []
    for table in CHAINED:
        rows = connection.execute(
            f"WITH RECURSIVE reached (id) AS (SELECT id FROM {table} WHERE replaces IS NULL UNION "
            f"SELECT {table}.id FROM {table} JOIN reached ON {table}.replaces = reached.id) "
            f"SELECT id FROM {table} WHERE id NOT IN (SELECT id FROM reached)"
        )
        found += [Finding("corrections", f"{table} {row[0]} corrects nothing that is there") for row in rows]
    rows = connection.execute(
        "SELECT bike_id, name, count(*) FROM load_case WHERE withdrawn = 0 AND NOT EXISTS "
        "(SELECT 1 FROM load_case AS n WHERE n.replaces = load_case.id) GROUP BY bike_id, name HAVING count(*) > 1"
    )
    return found + [Finding("load cases", f"{row[2]} load cases are called {row[1]}") for row in rows]


def _rides(connection: sqlite3.Connection) -> list[Finding]:
    rows = connection.execute(
        "SELECT number FROM ride WHERE NOT EXISTS (SELECT 1 FROM ride_entry WHERE ride_id = ride.id)"
    )
    return [Finding("rides", f"ride {row[0]} has no facts") for row in rows]


def _bikes(connection: sqlite3.Connection) -> list[Finding]:
    """Bikes' files are what their hashes say, and have the legs that readings name."""
    import hashlib

    found = []
    named = {table: _legs_named(connection, table) for table in ("setting", "reading")}
    for row in connection.execute(
        "SELECT bike.name, bike_version.* FROM bike_version JOIN bike ON bike.id = bike_id"
    ):
        if hashlib.sha256(row["toml"].encode("utf-8")).hexdigest() != row["sha256"]:
            found.append(Finding("bikes", f"{row['name']}: a file's text does not match its hash"))
        try:
            bike = parse_bike(row["toml"], row["name"]).bike
        except LogbookError:
            continue  # among the bad rows
        if bike.name != row["name"]:
            found.append(Finding("bikes", f"{row['name']}: its file calls it {bike.name}"))
        legs = {leg.name.value for leg in bike.legs}
        for table, by_version in named.items():
            found += [
                Finding("legs", f"ride {number} has a {table} on {leg}, which {row['name']} does not have")
                for leg, number in by_version[row["id"]]
                if leg not in legs
            ]
    return found


def _legs_named(connection: sqlite3.Connection, table: str) -> dict[str, list[tuple[str, int]]]:
    """Legs that a table names and the rides' numbers, by the version of the bike that a ride's entries name."""
    found: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for version, leg, number in connection.execute(
        f"SELECT DISTINCT bike_version_id, {table}.leg, ride.number FROM {table} "
        f"JOIN ride ON ride.id = {table}.ride_id JOIN ride_entry ON ride_entry.ride_id = ride.id"
    ):
        found[version].append((leg, number))
    return found


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    names = [
        row[0]
        for row in connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid"
        )
    ]
    return {name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names}


def check_file(path: Path) -> Report:
    """Open a logbook's file, check it, and close it."""
    with Logbook.open(path, create=False) as logbook:
        return check(logbook)

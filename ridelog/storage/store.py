"""The logbook: one file that holds bikes, load cases, rides, settings, readings and sag."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from types import TracebackType

from ridelog.bikes.file import BikeFile
from ridelog.errors import RecordError
from ridelog.storage.connection import connect, snapshot, transaction, translate_sqlite_errors
from ridelog.storage.records import (
    BikeVersion,
    Provenance,
    SagMeasurement,
    SagSession,
    SagSetting,
    StoredBike,
)
from ridelog.storage.rides import Rides
from ridelog.storage.rows import record
from ridelog.storage.tables import CURRENT, Loads, Table


class Bikes(Table):
    """Bikes and what their files said."""

    def all_bikes(self) -> tuple[StoredBike, ...]:
        """All bikes, in the order in which they came."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            return self.records(StoredBike, "TRUE")

    def find(self, name: str) -> StoredBike | None:
        """Find the bike of this name."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            return next(iter(self.records(StoredBike, "name = ?", name)), None)

    def put_file(self, file: BikeFile, provenance: Provenance) -> BikeVersion:
        """Keep what a bike's file says; the same text is kept once.

        Parameters
        ----------
        file : BikeFile
        provenance : Provenance
            Used where the bike or its text is new.

        Returns
        -------
        BikeVersion
        """
        with translate_sqlite_errors(self.path), transaction(self.connection):
            bike = self.find(file.bike.name)
            if bike is None:
                bike = StoredBike(file.bike.name, provenance)
                self.put(bike)
            there = self.records(BikeVersion, "bike_id = ? AND sha256 = ?", bike.id, file.sha256)
            if there:
                return there[0]
            version = BikeVersion(bike.id, file.text, file.sha256, provenance)
            self.put(version)
            return version

    def version(self, identifier: str) -> BikeVersion:
        """Find what a bike's file said at one time.

        Raises
        ------
        RecordError
        """
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            found = self.records(BikeVersion, "bike_version.id = ?", identifier)
            if not found:
                raise RecordError(f"There is no version {identifier} of a bike.", "Take one from a ride.")
            return found[0]

    def versions(self, bike_id: str | None = None) -> dict[str, BikeVersion]:
        """Find all that the files of one bike, or of all, ever said, by the versions' identifiers."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            found = self.records(BikeVersion, "?1 IS NULL OR bike_id = ?1", bike_id)
            return {version.id: version for version in found}


class Sag(Table):
    """Sessions in which sag was measured."""

    def add(self, bike_id: str, session: SagSession) -> SagSession:
        """Keep a session, its lengths and its counts; `replaces` names the one that it corrects."""
        with translate_sqlite_errors(self.path), transaction(self.connection):
            kept = replace(
                session,
                bike_id=bike_id,
                measurements=tuple(replace(one, sag_session_id=session.id) for one in session.measurements),
                settings=tuple(replace(one, sag_session_id=session.id) for one in session.settings),
            )
            self.put(kept)
            self.put(*kept.measurements, *kept.settings)
            return kept

    def current(self, bike_id: str) -> tuple[SagSession, ...]:
        """Find the sessions of a bike by date, corrections applied."""
        with translate_sqlite_errors(self.path), snapshot(self.connection):
            where = f"bike_id = ?1 AND withdrawn = 0 AND {CURRENT.format('sag_session')}"
            lengths, counts = defaultdict(list), defaultdict(list)
            of_sessions = f"sag_session_id IN (SELECT sag_session.id FROM sag_session WHERE {where})"
            for one in self.records(SagMeasurement, of_sessions, bike_id):
                lengths[one.sag_session_id].append(one)
            for setting in self.records(SagSetting, of_sessions, bike_id):
                counts[setting.sag_session_id].append(setting)
            found = [
                record(
                    SagSession,
                    row,
                    measurements=tuple(lengths[row["id"]]),
                    settings=tuple(counts[row["id"]]),
                )
                for row in self.rows(SagSession, where, bike_id)
            ]
        return tuple(sorted(found, key=lambda session: session.date))  # stable: then as they came


class Logbook:
    """An open logbook.

    Attributes
    ----------
    bikes : Bikes
    loads : Loads
    rides : Rides
    sag : Sag
    connection : sqlite3.Connection
        For checks, export and backup.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.connection = connection
        self.path = path
        self.bikes = Bikes(connection, path)
        self.loads = Loads(connection, path)
        self.rides = Rides(connection, path)
        self.sag = Sag(connection, path)

    @classmethod
    def open(cls, path: Path, *, create: bool = True) -> Logbook:
        """Open a logbook's file; an older one is brought to this version, and a copy of it kept beside it.

        Raises
        ------
        FileError
        """
        return cls(connect(path, create=create), path)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self.connection.close()

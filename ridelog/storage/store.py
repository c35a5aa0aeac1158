"""The logbook: one file that holds bikes, load cases, rides, settings, readings and sag."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from types import TracebackType

from ridelog.bikes.file import BikeFile
from ridelog.errors import RecordError
from ridelog.storage.connection import connect, snapshot, told, transaction
from ridelog.storage.records import BikeVersion, Provenance, SagMeasurement, SagSession, StoredBike
from ridelog.storage.rides import Rides
from ridelog.storage.rows import record
from ridelog.storage.tables import CURRENT, Loads, Table


class Bikes(Table):
    """Bikes and what their files said."""

    def all_bikes(self) -> tuple[StoredBike, ...]:
        """All bikes, in the order in which they came."""
        with told(self.path), snapshot(self.connection):
            rows = self.all("SELECT * FROM bike ORDER BY rowid")
            return tuple(record(StoredBike, row, self.provenance) for row in rows)

    def find(self, name: str) -> StoredBike | None:
        """The bike of this name."""
        with told(self.path), snapshot(self.connection):
            row = self.one("SELECT * FROM bike WHERE name = ?", name)
            return None if row is None else record(StoredBike, row, self.provenance)

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
        with told(self.path), transaction(self.connection):
            bike = self.find(file.bike.name)
            if bike is None:
                bike = StoredBike(file.bike.name, provenance)
                self.put(bike)
            row = self.one(
                "SELECT * FROM bike_version WHERE bike_id = ? AND sha256 = ?", bike.id, file.sha256
            )
            if row is not None:
                return record(BikeVersion, row, self.provenance)
            version = BikeVersion(bike.id, file.text, file.sha256, provenance)
            self.put(version)
            return version

    def version(self, identifier: str) -> BikeVersion:
        """What a bike's file said at one time.

        Raises
        ------
        RecordError
        """
        with told(self.path), snapshot(self.connection):
            row = self.one("SELECT * FROM bike_version WHERE id = ?", identifier)
            if row is None:
                raise RecordError(f"There is no version {identifier} of a bike.", "Take one from a ride.")
            return record(BikeVersion, row, self.provenance)


class Sag(Table):
    """Sessions in which sag was measured."""

    def add(self, bike_id: str, session: SagSession) -> SagSession:
        """Keep a session and its lengths; `replaces` names the one that it corrects."""
        with told(self.path), transaction(self.connection):
            kept = replace(
                session,
                bike_id=bike_id,
                measurements=tuple(replace(one, sag_session_id=session.id) for one in session.measurements),
            )
            self.put(kept)
            for one in kept.measurements:
                self.put(one)
            return kept

    def current(self, bike_id: str) -> tuple[SagSession, ...]:
        """The sessions of a bike by date, corrections applied."""
        with told(self.path), snapshot(self.connection):
            rows = self.all(
                "SELECT * FROM sag_session WHERE bike_id = ? AND withdrawn = 0 AND "
                f"{CURRENT.format('sag_session')} ORDER BY date, rowid",
                bike_id,
            )
            return tuple(
                record(SagSession, row, self.provenance, measurements=self._lengths(row["id"]))
                for row in rows
            )

    def _lengths(self, session_id: str) -> tuple[SagMeasurement, ...]:
        rows: Iterable[sqlite3.Row] = self.all(
            "SELECT * FROM sag_measurement WHERE sag_session_id = ? ORDER BY rowid", session_id
        )
        return tuple(record(SagMeasurement, row, self.provenance) for row in rows)


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

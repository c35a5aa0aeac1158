"""What all pages of one server share, and how a page finds it and its visitor."""

from __future__ import annotations

import sqlite3
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from strandline.garage.bikes import BikeNamed, bike_named
from strandline.garage.photos.reading import PhotoReader
from strandline.garage.photos.store import PhotoStore
from strandline.garage.photos.workers import Workers
from strandline.garage.server.day_watch import DayWatch
from strandline.garage.server.drafts import Drafts, RideDraft, SagDraft
from strandline.garage.server.session import Sessions, Visitor
from strandline.garage.settings import GarageSettings
from strandline.ride.record import RecordedRide
from strandline.shared.files import OutputError, make_folder
from strandline.shared.folder_lock import take_lock

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request


class Arrivals:
    """Counts the photos that are on their way."""

    def __init__(self) -> None:
        self.count = 0

    def __enter__(self) -> None:
        self.count += 1

    def __exit__(self, *_: object) -> None:
        self.count -= 1


@dataclass(frozen=True)
class Garage:
    """One server's settings, phones, photos, workers, what is in progress, and its tech day.

    Attributes
    ----------
    recording : lock
        Held while a draft becomes a record: two phones may ask for it at once.
    lock : sqlite3.Connection
        Held as long as it is open: two servers would read each other's photos, and delete what arrives at the other.
    said : dict of int to RecordedRide
        What was said of the rides that were recorded since the start, by their numbers.
    """

    settings: GarageSettings
    sessions: Sessions
    store: PhotoStore
    workers: Workers
    reader: PhotoReader
    arrivals: Arrivals
    rides: Drafts[RideDraft]
    sags: Drafts[SagDraft]
    day: DayWatch | None
    lock: sqlite3.Connection
    recording: threading.RLock = field(default_factory=threading.RLock)
    said: dict[int, RecordedRide] = field(default_factory=dict)

    @classmethod
    def of(cls, settings: GarageSettings) -> Garage:
        """Open the folder of a garage; its workers are not started yet.

        Raises
        ------
        OutputError
            The folder cannot be made, or another garage has it.
        """
        make_folder(settings.folder, private=True)
        settings.folder.chmod(0o700)
        lock = _locked(settings.folder)
        store = PhotoStore(settings.folder / "photos")
        workers = Workers(settings.limits, settings.workers)
        reader = PhotoReader(settings, store, workers)
        sessions = Sessions(settings.folder / "phones.json")
        rides, sags = Drafts(settings.folder / "rides", RideDraft), Drafts(settings.folder / "sags", SagDraft)
        day = None if settings.day is None else DayWatch(settings.day, settings.units)
        return cls(settings, sessions, store, workers, reader, Arrivals(), rides, sags, day, lock)

    def close(self) -> None:
        """Stop the workers, and let another garage have the folder."""
        self.workers.close()
        self.lock.close()


def _locked(folder: Path) -> sqlite3.Connection:
    try:
        found = take_lock(folder / "garage.lock")
    except sqlite3.Error as error:
        raise OutputError(f"The folder {folder} cannot be used: {error}.") from error
    if found is None:
        raise OutputError("A garage is open on this logbook already. Use its pages, or end it first.")
    return found


def garage_of(request: Request) -> Garage:
    """Find the garage that a request was sent to."""
    found: Garage = request.app.state.garage
    return found


def visitor_of(request: Request) -> Visitor:
    """Find who sent a request; the guard has let nobody else in."""
    found: Visitor = request.state.visitor
    return found


def bike_of(request: Request) -> BikeNamed:
    """Find the bike that a page's address names.

    Raises
    ------
    UnknownBike, BikeFileError
    """
    return bike_named(garage_of(request).settings, request.path_params["bike"])

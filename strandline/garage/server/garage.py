"""What all pages of one server share, and how a page finds it and its visitor."""

from __future__ import annotations

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
from strandline.shared.files import make_folder

if TYPE_CHECKING:
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
    recording: threading.RLock = field(default_factory=threading.RLock)
    said: dict[int, RecordedRide] = field(default_factory=dict)

    @classmethod
    def of(cls, settings: GarageSettings) -> Garage:
        """Open the folder of a garage; its workers are not started yet.

        Raises
        ------
        OutputError
            The folder cannot be made.
        """
        make_folder(settings.folder)
        settings.folder.chmod(0o700)
        store = PhotoStore(settings.folder / "photos")
        workers = Workers(settings.limits, settings.workers)
        reader = PhotoReader(settings, store, workers)
        sessions = Sessions(settings.folder / "phones.json")
        rides, sags = Drafts(settings.folder / "rides", RideDraft), Drafts(settings.folder / "sags", SagDraft)
        day = None if settings.day is None else DayWatch(settings.day, settings.units)
        return cls(settings, sessions, store, workers, reader, Arrivals(), rides, sags, day)


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

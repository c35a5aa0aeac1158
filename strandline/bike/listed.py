"""The bikes there are, with their rides: what ``strandline bike list`` and the garage's first page both show."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ridelog.bikes.file import read_bike
from ridelog.errors import LogbookError
from ridelog.storage.records import Ride
from ridelog.storage.store import Logbook
from strandline.shared.storage import bikes_folder, bikes_in, place


@dataclass(frozen=True)
class ListedBike:
    """A bike's file.

    Attributes
    ----------
    path : Path
    name : str
        The file's, without its ending, where the file cannot be used.
    rides : tuple of Ride
        By date.
    problem : str or None
        What is wrong with the file.
    """

    path: Path
    name: str
    rides: tuple[Ride, ...]
    problem: str | None = None


def listed_bikes(logbook_path: Path | None) -> tuple[ListedBike, ...]:
    """List the bikes' files by name, with the rides that the logbook has of each.

    Raises
    ------
    LogbookError
        The logbook cannot be read.
    """
    rides: dict[str, list[Ride]] = {}
    if place(logbook_path).exists():
        with Logbook.open(place(logbook_path), create=False) as logbook:
            for ride in logbook.rides.all_rides():
                rides.setdefault(ride.bike.name, []).append(ride)
    found = []
    for path in bikes_in(bikes_folder(logbook_path)):
        name, problem = path.stem, None
        try:
            name = read_bike(path).bike.name
        except LogbookError as error:
            problem = error.message
        found.append(ListedBike(path, name, tuple(rides.get(name, ())), problem))
    return tuple(found)

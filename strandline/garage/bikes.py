"""Bikes by the name in a page's address: only names that are in the folder lead to a file."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.bikes.bike import Bike
from ridelog.bikes.file import BikeFile, read_bike
from ridelog.errors import RecordError
from strandline.garage.settings import GarageSettings
from strandline.shared.storage import bikes_folder, bikes_in


class UnknownBike(RecordError):
    """There is no bike of this name."""


@dataclass(frozen=True)
class BikeNamed:
    """A bike, and its name in the addresses of pages.

    Attributes
    ----------
    stem : str
        Of its file.
    file : BikeFile
    """

    stem: str
    file: BikeFile

    @property
    def bike(self) -> Bike:
        """The bike as its file describes it."""
        return self.file.bike


def bike_named(settings: GarageSettings, name: str) -> BikeNamed:
    """Find a bike by its name in an address.

    Raises
    ------
    UnknownBike, BikeFileError
    """
    return BikeNamed(name, known_bike(settings, name))


def known_bike(settings: GarageSettings, name: str) -> BikeFile:
    """Read the file of a bike.

    Parameters
    ----------
    settings : GarageSettings
    name : str
        Of the file without its ending, as a client gave it: it is compared, never put into a path.

    Raises
    ------
    UnknownBike, BikeFileError
    """
    for path in bikes_in(bikes_folder(settings.logbook)):
        if path.stem == name:
            return read_bike(path)
    raise UnknownBike("There is no bike of this name.", "Choose one in the garage.")

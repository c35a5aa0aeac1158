"""Where the logbook and the bikes' files lie, and how commands open them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.shared.suggest import did_you_mean

if TYPE_CHECKING:
    from ridelog.bikes.file import BikeFile
    from ridelog.storage.records import Provenance
    from ridelog.storage.store import Logbook

FILE = "logbook.sqlite"
BIKES = "bikes"


def place(named: Path | None) -> Path:
    """Find the logbook's file: the named one, or the one in the user's data folder."""
    if named is not None:
        return named
    from platformdirs import user_data_path

    return user_data_path("strandline", appauthor=False) / FILE


@contextmanager
def opened(named: Path | None, *, create: bool) -> Iterator[Logbook]:
    """Open the logbook; errors inside become messages."""
    from ridelog.storage.store import Logbook
    from strandline.shared.messages import errors_as_messages

    with errors_as_messages(), Logbook.open(place(named), create=create) as logbook:
        yield logbook


def typed_by(who: str | None) -> Provenance:
    """Provenance of what is typed now."""
    from ridelog.storage.records import Provenance, Source
    from strandline import __version__

    return Provenance(Source.TYPED, __version__, who=who or None)


def bikes_folder(named: Path | None) -> Path:
    """Find the folder of the bikes' files, beside the logbook."""
    return place(named).parent / BIKES


def bikes_in(folder: Path) -> list[Path]:
    """List the files of bikes in a folder, by name; none if there is no such folder."""
    return sorted(folder.glob("*.toml")) if folder.is_dir() else []


def bike_path(named: Path | None, bike: str) -> Path:
    """Find a bike's file by its path, or by the name of the bike or of the file in the folder of bikes.

    An empty name is that of the settings, else the only bike's.

    Raises
    ------
    ridelog.errors.LogbookError
        There is none, or two bikes have this name.
    """
    from ridelog.errors import LogbookError

    bike = bike or _usual_bike()
    if bike.endswith(".toml") or "/" in bike or "\\" in bike:
        return Path(bike)
    folder = bikes_folder(named)
    files = bikes_in(folder)
    if not bike:
        if len(files) == 1:
            return files[0]
        known = ", ".join(path.stem for path in files)
        raise LogbookError(
            f"Which bike? There are {known}." if files else f"There is no bike in {folder} yet.",
            "Name one with --bike." if files else "Describe one with strandline bike new.",
        )
    # As the file system may have changed it: macOS writes accents as characters of their own.
    wanted = unicodedata.normalize("NFC", bike)
    found = [
        path
        for path in files
        if wanted
        in (unicodedata.normalize("NFC", name) for name in (path.stem, quick_name(path) or path.stem))
    ]
    if len(found) == 1:
        return found[0]
    if found:
        raise LogbookError(
            f"Several files in {folder} describe {bike}.", f"Name one: {', '.join(map(str, found))}."
        )
    stems = [path.stem for path in files]
    named_or_stem = [*stems, *filter(None, map(quick_name, files))]
    raise LogbookError(
        f"There is no bike {bike} in {folder} (there: {', '.join(stems) or 'none yet'}).",
        did_you_mean(bike, named_or_stem) or "Make one with strandline bike new, or name its file.",
    )


def _usual_bike() -> str:
    from strandline.shared.settings import setting

    return setting("bike") or ""


def quick_name(path: Path) -> str | None:
    """Read the name in a bike's file, even if the rest of it is wrong; None if there is none."""
    import tomllib

    from ridelog.bikes.file import LARGEST_BYTES
    from ridelog.regular_file import read_regular

    try:
        name = tomllib.loads(read_regular(path, LARGEST_BYTES).decode("utf-8-sig")).get("name")
    except (OSError, ValueError, RecursionError):
        return None
    return name if isinstance(name, str) else None


def bike_read(named: Path | None, bike: str) -> BikeFile:
    """Read and check a bike's file."""
    from ridelog.bikes.file import read_bike

    return read_bike(bike_path(named, bike))

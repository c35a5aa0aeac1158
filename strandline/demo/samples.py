"""The sample photos: where they are, and what is known about each."""

from __future__ import annotations

import dataclasses
import tomllib
from dataclasses import dataclass
from pathlib import Path

from strandline.read.parse import ReadOptions
from strandline.shared.files import read_own
from vision.names import LengthName

FOLDER = "sample-images"
LIST = "photos.toml"
_STATED = {field.name for field in dataclasses.fields(ReadOptions)}
_OWN = {"file", "shows", "rendered"}


class SamplesError(Exception):
    """Sample photos that are not there, or a list of them that cannot be used; the message says which."""


@dataclass(frozen=True)
class Sample:
    """One sample photo.

    Attributes
    ----------
    path : Path
    shows : str
        What is to be seen, a sentence.
    options : ReadOptions
        What the person would have typed.
    rendered : dict of str to float
        The lengths that the picture was rendered with, mm, by their names in the JSON output. For comparison
        only: the reading never sees them.
    """

    path: Path
    shows: str
    options: ReadOptions
    rendered: dict[str, float]


def find_folder(named: Path | None) -> Path:
    """Find the folder of sample photos: the named one, the checkout's, or one below the current folder.

    Raises
    ------
    SamplesError
        If there is none.
    """
    checkout = Path(__file__).resolve().parents[2] / FOLDER
    places = [named] if named is not None else [checkout, Path(FOLDER)]
    for place in places:
        if (place / LIST).is_file():
            return place
    where = (
        f"{named} holds no {LIST}."
        if named is not None
        else "The sample photos are not part of the installed program."
    )
    raise SamplesError(
        f"{where} They are in the folder {FOLDER} of the project's source: run this from a checkout, or name "
        "the folder with --samples."
    )


def load_samples(folder: Path) -> list[Sample]:
    """Read the list of sample photos.

    Raises
    ------
    SamplesError
        Naming the list and what is wrong in it.
    """
    path = folder / LIST
    try:
        entries = tomllib.loads(read_own(path))["photo"]
        return [_sample(folder, entry) for entry in entries]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SamplesError(f"{path} cannot be used: {error}.") from error


def _sample(folder: Path, entry: dict[str, object]) -> Sample:
    unknown = entry.keys() - _STATED - _OWN
    if unknown:
        raise ValueError(f"{entry.get('file')}: unknown {', '.join(sorted(unknown))}")
    stated = {key: str(value) for key, value in entry.items() if key in _STATED}
    rendered = entry.get("rendered", {})
    if not isinstance(rendered, dict) or rendered.keys() - {name.field for name in LengthName}:
        raise ValueError(f"{entry['file']}: rendered may hold {', '.join(name.field for name in LengthName)}")
    return Sample(
        path=folder / str(entry["file"]),
        shows=str(entry.get("shows", "")),
        options=ReadOptions(**stated),
        rendered={key: float(value) for key, value in rendered.items()},
    )

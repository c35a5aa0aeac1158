"""A made day of any size: roster, bike files and folders as on a real one, photos copied with a small change."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from bench.photo12 import enlarged, sample_named
from strandline.day.identify.roster import FILE as ROSTER
from strandline.day.identify.roster_line import RosterLine
from strandline.day.identify.roster_table import roster_csv
from strandline.day.identify.window import Window, window
from strandline.day.setup.folder import BIKES, PHOTOS

# Rendered photos of 1.6 megapixels, all with card 3: small, so that many can be read quickly.
SMALL_PHOTOS = Path(__file__).resolve().parents[1] / "tests" / "vision" / "photos"
# A sample photo that is read in full at print scale 1, for photos as large as a phone's.
LARGE_SAMPLE = "fork-chrome-blue-tie.jpg"
# Time for which each bike has the card, s: a roster must not give it to two at a time; a day has 8,640 of these.
SECONDS_PER_BIKE = 10


@dataclass(frozen=True)
class Shot:
    """A photo of every bike of a made day.

    Attributes
    ----------
    source : Path
        A JPEG.
    place : str
        Name of its folder, which gives leg and phase.
    """

    source: Path
    place: str


@dataclass(frozen=True)
class Kind:
    """Contents of a made day.

    Attributes
    ----------
    card : int
        The card in all photos: bikes share it, each for a part of the day, and folders identify them.
    legs : str
        Of each bike, as in its file.
    shots : tuple of Shot
        A bike's photos, repeated from the start where it has more.
    per_bike : int
        Photos of one bike.
    """

    card: int
    legs: str
    shots: tuple[Shot, ...]
    per_bike: int


_LEGS = """
[leg.front-left]
layout = "fork"
shaft = "41.01 mm"
extended = "160 mm"
stroke = "115 mm"

[leg.front-right]
layout = "fork"
shaft = "40.49 mm"
extended = "160 mm"
stroke = "125 mm"

[leg.rear]
layout = "shock"
shaft = "13.01 mm"
extended = "60 mm"
"""
# Photos of a bike: three legs before and after, some of them twice, and one that is an exception.
_SHOTS = (
    ("plain", "front left before"),
    ("dark", "front left before"),
    ("seal-bottom", "front right before"),
    ("black-on-black", "front right before"),
    ("seal-left", "rear before"),
    ("glare-on-card", "front left after"),
    ("finger-on-card", "front left after"),
    ("tie-lock", "front right after"),
    ("marker-in-bumper", "rear after"),
    ("blurred", "front left after"),
)


def usual(per_bike: int = len(_SHOTS)) -> Kind:
    """Describe a usual day: at most ten photos per bike, of which most are read."""
    shots = tuple(Shot(SMALL_PHOTOS / f"{name}.jpg", place) for name, place in _SHOTS[:per_bike])
    return Kind(3, _LEGS, shots, len(shots))


def one_leg(count: int) -> Kind:
    """Describe a day of one leg alone, the worst case for comparing the photos of a leg with one another."""
    shots = (Shot(SMALL_PHOTOS / "plain.jpg", "front left before"),)
    return Kind(3, _LEGS, shots, count)


def large(folder: Path) -> Kind:
    """Describe a day of photos of 12 megapixels, all of one bike; the photo to copy is written into a folder."""
    shaft = sample_named(LARGE_SAMPLE).options.shaft
    legs = f'\n[leg.front]\nlayout = "fork"\nshaft = "{shaft}"\nextended = "160 mm"\nstroke = "125 mm"\n'
    # A single bike has the card all day, whatever the time in the photo.
    return Kind(2, legs, (Shot(enlarged(folder, LARGE_SAMPLE).path, "before"),), sys.maxsize)


def make(folder: Path, kind: Kind, count: int) -> Path:
    """Make a day's folder.

    Parameters
    ----------
    folder : Path
        Must not exist.
    kind : Kind
    count : int
        Photos; no two have the same content.

    Returns
    -------
    Path
        The folder.
    """
    contents = [shot.source.read_bytes() for shot in kind.shots]
    (folder / BIKES).mkdir(parents=True)
    lines = []
    bikes = -(-count // kind.per_bike)
    for bike in range(bikes):
        label = f"Bike {bike + 1}"
        when = _window(bike) if bikes > 1 else Window()
        line = RosterLine(kind.card, label, bike_file=f"{BIKES}/{bike + 1}.toml", window=when)
        (folder / line.bike_file).write_text(f'format = 1\nname = "{label}"\n{kind.legs}', encoding="utf-8")
        lines.append(line)
    (folder / ROSTER).write_bytes(roster_csv(tuple(lines)).encode())
    for number in range(count):
        bike, place = divmod(number, kind.per_bike)
        which = place % len(kind.shots)
        path = folder / PHOTOS / lines[bike].label / kind.shots[which].place / f"{place}-{which}.jpg"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(with_comment(contents[which], f"copy {number}"))
    return folder


def shot_of(name: str) -> int:
    """Return the number of the shot that a photo of a made day is a copy of, from its name."""
    return int(name.rpartition("-")[2].removesuffix(".jpg"))


def with_comment(jpeg: bytes, comment: str) -> bytes:
    """Add a comment to a JPEG (ITU-T T.81, B.2.4.5): other bytes, the same picture."""
    text = comment.encode()
    return jpeg[:2] + b"\xff\xfe" + (len(text) + 2).to_bytes(2, "big") + text + jpeg[2:]


def _window(bike: int) -> Window:
    return window(_clock(SECONDS_PER_BIKE * bike), _clock(SECONDS_PER_BIKE * (bike + 1)))


def _clock(seconds: int) -> str:
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"

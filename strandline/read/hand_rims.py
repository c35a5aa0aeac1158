"""Rims set by hand: ``--rims "seal=812,433 marker=815,902;840,904 far=820,1400"``."""

from __future__ import annotations

import math
from dataclasses import dataclass

from vision.errors import VisionError

EXAMPLE = "seal=812,433 marker=815,902;840,904 far=820,1400"
NAMES = ("seal", "marker", "far")
# Nobody clicks more along one rim; what is longer is a paste gone wrong.
MOST_POINTS = 200

Point = tuple[float, float]


class RimsError(VisionError):
    """Rims that cannot be taken as they are written."""


@dataclass(frozen=True)
class StatedRims:
    """Points on each rim, px of the upright photo (x right, y down); empty where a rim was not set."""

    seal: tuple[Point, ...] = ()
    marker: tuple[Point, ...] = ()
    far: tuple[Point, ...] = ()

    def outside(self, width_px: int, height_px: int) -> Point | None:
        """First point that is not on a photo of this size, or None."""
        for x, y in (*self.seal, *self.marker, *self.far):
            if x > width_px - 0.5 or y > height_px - 0.5:
                return x, y
        return None


def parse_rims(text: str) -> StatedRims:
    """Read rims set by hand.

    Parameters
    ----------
    text : str
        Rims separated by spaces, each ``name=x,y`` with one or more points separated by ``;``.

    Returns
    -------
    StatedRims

    Raises
    ------
    RimsError
        An unknown or repeated rim, something that is no point, or fewer than two rims (no length).
    """
    found: dict[str, tuple[Point, ...]] = {}
    for word in text.split():
        name, equals, places = word.partition("=")
        name = name.lower()
        if not equals or name not in NAMES:
            raise _refuse(f"“{word[:60]}” is not one of seal=…, marker=…, far=….")
        if name in found:
            raise _refuse(f"The rim {name} is given twice.")
        found[name] = tuple(_point(name, place) for place in places.split(";"))
        if len(found[name]) > MOST_POINTS:
            raise _refuse(f"The rim {name} has more than {MOST_POINTS} points.")
    if len(found) < 2:
        raise _refuse("A length needs two rims.")
    return StatedRims(**found)


def _point(name: str, text: str) -> Point:
    parts = text.split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError:
        raise _refuse(f"“{text[:60]}” on the rim {name} is not a point x,y.") from None
    if not (math.isfinite(x) and math.isfinite(y)) or min(x, y) < -0.5:
        raise _refuse(f"The point {text[:60]} on the rim {name} is outside any photo.")
    return x, y


def _refuse(message: str) -> RimsError:
    return RimsError(
        message,
        "Give image points in pixels from the upright photo's top left corner, several on a rim separated "
        f'by ";", for example --rims "{EXAMPLE}".',
    )

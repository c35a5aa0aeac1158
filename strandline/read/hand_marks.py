"""Marks set by hand: ``--rims "seal=812,433 marker=815,902;840,904 far=820,1400" --edges "790,500;795,1300 ..."``."""

from __future__ import annotations

import math
from dataclasses import dataclass

from vision.errors import VisionError

EXAMPLE = "seal=812,433 marker=815,902;840,904 far=820,1400"
EDGES_EXAMPLE = "790,500;795,1300 840,500;846,1300"
NAMES = {"seal": "seal", "marker": "marker", "marker-end": "marker_end", "far": "far"}
# Nobody clicks more along one rim; what is longer is a paste gone wrong.
MOST_POINTS = 200
# Standard uncertainty of a point set by hand, px: half a pixel is what a magnified sharp edge allows; from 20 px on a
# 2.5 mm tie at 3 px/mm cannot be distinguished from its surroundings.
HAND_ERROR_PX = (0.5, 20.0)

Point = tuple[float, float]
Line = tuple[Point, ...]


class MarksError(VisionError):
    """Marks that cannot be taken as they are written."""


@dataclass(frozen=True)
class StatedMarks:
    """Points set by hand, px of the upright photo (x right, y down); empty where a rim was not set.

    Attributes
    ----------
    seal, marker, marker_end, far : tuple of points
    edges : tuple of lines
        Points along each of the shaft's edges: none, one or two.
    sd_px : float or None
        Standard uncertainty of one point; None for the usual.
    """

    seal: Line = ()
    marker: Line = ()
    marker_end: Line = ()
    far: Line = ()
    edges: tuple[Line, ...] = ()
    sd_px: float | None = None

    def outside(self, width_px: int, height_px: int) -> Point | None:
        """First point that is not on a photo of this size, or None."""
        for line in (self.seal, self.marker, self.marker_end, self.far, *self.edges):
            for x, y in line:
                if x > width_px - 0.5 or y > height_px - 0.5:
                    return x, y
        return None


def parse_rims(text: str) -> StatedMarks:
    """Read rims set by hand.

    Parameters
    ----------
    text : str
        Rims separated by spaces, each ``name=x,y`` with one or more points separated by ``;``.

    Returns
    -------
    StatedMarks

    Raises
    ------
    MarksError
        An unknown or repeated rim, something that is no point, or fewer than two rims (no length).
    """
    found: dict[str, Line] = {}
    for word in text.split():
        name, equals, places = word.partition("=")
        name = name.lower()
        if not equals or name not in NAMES:
            raise _refuse(f"“{word[:60]}” is not one of {', '.join(f'{one}=…' for one in NAMES)}.")
        if NAMES[name] in found:
            raise _refuse(f"The rim {name} is given twice.")
        found[NAMES[name]] = _line(f"the rim {name}", places)
    if len(found) < 2:
        raise _refuse("A length needs two rims.")
    seal, near, end, far = (found.get(name, ()) for name in NAMES.values())
    return StatedMarks(seal, near, end, far)


def parse_edges(text: str) -> tuple[Line, ...]:
    """Read lines along the shaft's edges.

    Parameters
    ----------
    text : str
        One or two lines separated by spaces, each of two or more points ``x,y`` separated by ``;``.

    Raises
    ------
    MarksError
    """
    lines = tuple(_line("an edge", word) for word in text.split())
    if not 1 <= len(lines) <= 2 or any(len(line) < 2 for line in lines):
        raise MarksError(
            "A line along an edge needs two points, and a shaft has two edges.",
            f'Separate points by ";" and the two lines by a space, for example --edges "{EDGES_EXAMPLE}".',
        )
    return lines


def parse_hand_error(text: str) -> float:
    """Read the standard uncertainty of a point set by hand, px.

    Raises
    ------
    MarksError
    """
    low, high = HAND_ERROR_PX
    try:
        value = float(text.lower().removesuffix("px").strip())
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise MarksError(
            f"“{text[:60]}” is not how far off a point set by hand may be.",
            f"Give one standard deviation in pixels of the photo, {low:g} to {high:g}, for example 2px.",
        )
    return value


def _line(what: str, text: str) -> Line:
    points = tuple(_point(what, place) for place in text.split(";"))
    if len(points) > MOST_POINTS:
        raise _refuse(f"{what[0].upper()}{what[1:]} has more than {MOST_POINTS} points.")
    return points


def _point(what: str, text: str) -> Point:
    parts = text.split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError:
        raise _refuse(f"“{text[:60]}” on {what} is not a point x,y.") from None
    if not (math.isfinite(x) and math.isfinite(y)) or min(x, y) < -0.5:
        raise _refuse(f"The point {text[:60]} on {what} is outside any photo.")
    return x, y


def _refuse(message: str) -> MarksError:
    return MarksError(
        message,
        "Give image points in pixels from the upright photo's top left corner, several on a rim separated "
        f'by ";", for example --rims "{EXAMPLE}".',
    )

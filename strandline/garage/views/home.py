"""The first page: the bikes, and what is next for each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strandline.bike.draft import drafts_in
from strandline.bike.listed import ListedBike, listed_bikes
from strandline.bike.questions import file_name
from strandline.garage.server.garage import Garage, garage_of
from strandline.garage.server.pages import html
from strandline.shared.storage import bikes_folder
from strandline.start.overview import Next, last_ride, next_for

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [Route("/", home), Route("/here", here)]


@dataclass(frozen=True)
class Tile:
    """A bike on the first page.

    Attributes
    ----------
    stem, name, last : str
    next_words, next_page : str
    problem : str or None
    """

    stem: str
    name: str
    last: str
    next_words: str
    next_page: str
    problem: str | None


def home(request: Request) -> Response:
    """List the bikes, the one that was ridden last first."""
    garage = garage_of(request)
    listed = sorted(listed_bikes(garage.settings.logbook), key=_last_day, reverse=True)
    begun = [
        (name, file_name(name).removesuffix(".toml"))
        for name in drafts_in(bikes_folder(garage.settings.logbook))
    ]
    tiles = [_tile(garage, one) for one in listed]
    return html(request, "garage.html", tiles=tiles, begun=begun, has_day=garage.day is not None)


def here(request: Request) -> Response:
    """Answer a phone that asks whether the laptop is there, before it sends a large photo."""
    from starlette.responses import Response

    return Response(status_code=204)


def _last_day(one: ListedBike) -> str:
    return max((ride.entry.date.isoformat() for ride in one.rides), default="")


def _tile(garage: Garage, one: ListedBike) -> Tile:
    stem = one.path.stem
    newest = sorted(one.rides, key=lambda ride: (ride.entry.date, ride.number), reverse=True)
    pages = {
        Next.RIDE: ("Ride, then take the photos", "ride"),
        Next.READING: ("The last ride has no reading yet", "history"),
        Next.ADVICE: ("Read the advice", "advice"),
    }
    words, page = pages[next_for(newest)]
    if garage.rides.begun(stem) is not None:
        words, page = "Go on with the ride in progress", "ride"
    return Tile(stem, one.name, last_ride(newest), words, page, one.problem)

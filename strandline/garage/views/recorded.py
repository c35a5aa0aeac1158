"""Rides as they were recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelog.storage.store import Logbook
from strandline.facts.readings import bike_then, bikes_then
from strandline.garage.server.garage import bike_of, garage_of
from strandline.garage.server.pages import html
from strandline.ride.text import ride_sentences
from strandline.shared.storage import place

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

    from ridelog.bikes.bike import Bike
    from ridelog.storage.records import Ride
    from suspension.quantities.lengths import Units


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [Route("/bike/{bike}/history", history), Route("/bike/{bike}/recorded/{number:int}", recorded)]


def history(request: Request) -> Response:
    """List the rides, the newest first."""
    settings = garage_of(request).settings
    named = bike_of(request)
    path, rides = place(settings.logbook), []
    if path.exists():
        with Logbook.open(path, create=False) as logbook:
            known = logbook.bikes.find(named.bike.name)
            found = () if known is None else logbook.rides.all_rides(known.id)
            bikes = bikes_then(logbook, found, None if known is None else known.id)
        for one in reversed(found):
            head, *rest = _sentences(one, bikes[one.entry.bike_version_id], settings.units)
            rides.append((one.number, head, tuple(rest)))
    return html(request, "history.html", stem=named.stem, bike=named.bike, rides=rides)


def recorded(request: Request) -> Response:
    """Show a ride that was recorded, with what was said of it then."""
    garage = garage_of(request)
    named = bike_of(request)
    number = request.path_params["number"]
    with Logbook.open(place(garage.settings.logbook), create=False) as logbook:
        ride = logbook.rides.get(number)
        then = bike_then(logbook, ride)
    said = garage.said.get(number)
    return html(
        request,
        "recorded.html",
        stem=named.stem,
        bike=named.bike,
        ride=ride,
        lines=_sentences(ride, then, garage.settings.units),
        cautions=() if said is None else said.cautions,
        new_load=None if said is None else said.new_load,
    )


def _sentences(ride: Ride, bike: Bike, units: Units) -> tuple[str, ...]:
    """Give a ride's sentences; those of a terminal are broken at its columns."""
    return tuple(words for words, _ in ride_sentences(ride, bike, units))

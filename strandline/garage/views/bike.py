"""A bike's own page: what is to be done next, in order, and what is known of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelog.storage.store import Logbook
from strandline.bike.text import lines
from strandline.garage.server.garage import bike_of, garage_of
from strandline.garage.server.pages import html
from strandline.ride.plan_steps import Plan, plan_session
from strandline.shared.storage import place

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

    from ridelog.bikes.bike import Bike
    from strandline.garage.settings import GarageSettings


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [Route("/bike/{bike}", show_bike)]


def show_bike(request: Request) -> Response:
    """Show the plan of the next session, and the bike's values."""
    garage = garage_of(request)
    named = bike_of(request)
    return html(
        request,
        "bike.html",
        stem=named.stem,
        bike=named.bike,
        plan=_plan(garage.settings, named.bike),
        lines=tuple(lines(named.bike, None)),
        not_known=named.file.not_known,
        begun=garage.rides.begun(named.stem) is not None,
    )


def _plan(settings: GarageSettings, bike: Bike) -> Plan:
    path = place(settings.logbook)
    if not path.exists():
        return plan_session(None, bike, None, None)
    with Logbook.open(path, create=False) as logbook:
        return plan_session(logbook, bike, None, None)

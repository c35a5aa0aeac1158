"""A tech day: its roster, photos from several phones, and its page, which grows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelog.names import LegName
from strandline.day.identify.identity import Phase
from strandline.garage.server.day_watch import DayWatch
from strandline.garage.server.garage import garage_of
from strandline.garage.server.pages import html

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/day", show_day),
        Route("/day/page", day_page),
        Route("/day/entrant/{line:int}", show_entrant),
    ]


@dataclass(frozen=True)
class Entrant:
    """A line of the roster.

    Attributes
    ----------
    line, card : int
    label, bike, problem : str
    legs : tuple of LegName
    """

    line: int
    card: int
    label: str
    bike: str
    problem: str
    legs: tuple[LegName, ...]


def show_day(request: Request) -> Response:
    """Show the roster, and how far the day is."""
    day = _day(request)
    return html(request, "day.html", day=day, name=day.folder.name, entrants=_entrants(day))


def show_entrant(request: Request) -> Response:
    """Show the buttons that take an entrant's photos."""
    from starlette.exceptions import HTTPException

    day = _day(request)
    found = [one for one in _entrants(day) if one.line == request.path_params["line"]]
    if not found:
        raise HTTPException(404)
    phases = [(Phase.BEFORE, "Before"), (Phase.AFTER, "After")]
    return html(request, "entrant.html", entrant=found[0], phases=phases)


def day_page(request: Request) -> Response:
    """Give the day's page as it is now."""
    from starlette.responses import HTMLResponse, RedirectResponse

    text = _day(request).page()
    return RedirectResponse("/day", 303) if text is None else HTMLResponse(text)


def _day(request: Request) -> DayWatch:
    from starlette.exceptions import HTTPException

    day = garage_of(request).day
    if day is None:
        raise HTTPException(404)
    return day


def _entrants(day: DayWatch) -> list[Entrant]:
    return [
        Entrant(
            one.line,
            one.card,
            one.label,
            one.about,
            one.problem,
            one.usual_legs,
        )
        for one in day.roster().entries
    ]

"""Advice and charts of a bike."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import quote

from ridelog.storage.store import Logbook
from strandline.advise.advice import EndAdvice
from strandline.advise.asked import ends_asked
from strandline.advise.case import CaseAdvice
from strandline.advise.text import cautions_shown
from strandline.advise.words import do, how_sure, notes, read, why
from strandline.garage.bikes import BikeNamed, bike_named
from strandline.garage.server.garage import bike_of, garage_of
from strandline.garage.server.pages import html
from strandline.garage.settings import GarageSettings
from strandline.shared.messages import ROOM_ERRORS
from strandline.shared.storage import place
from strandline.shared.units import in_units
from suspension.advice.step import Action
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

CHARTS = {
    "used": "Stroke used by preload",
    "settings": "Setting for each load",
    "history": "Stroke used, ride by ride",
}
# Matplotlib keeps its settings for all threads.
_drawing = threading.Lock()


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/bike/{bike}/advice", advice),
        Route("/bike/{bike}/charts", charts),
        Route("/bike/{bike}/charts/{chart}.png", chart),
    ]


@dataclass(frozen=True)
class CaseShown:
    """The advice for one end and load, in sentences.

    Attributes
    ----------
    where, do, done, sure, why, read : str
        Empty where there is nothing to say.
    notes : tuple of str
    """

    where: str
    do: str
    done: str
    sure: str
    why: str
    read: str
    notes: tuple[str, ...]


def advice(request: Request) -> Response:
    """Show the advice: what to do first, then how sure it is, why, and what to know besides."""
    settings = garage_of(request).settings
    named = bike_of(request)
    ends = _ends(settings, named)
    shown = [_shown(end, case, settings.units) for end in ends for case in end.cases]
    cautions = [one.value for one in cautions_shown(ends, True)]
    return html(request, "advice.html", stem=named.stem, bike=named.bike, cases=shown, cautions=cautions)


def charts(request: Request) -> Response:
    """Show the charts that can be drawn."""
    settings = garage_of(request).settings
    named = bike_of(request)
    ends = [end.facts.end.value for end in _ends(settings, named)]
    pictures = [(f"{end}-{what}", f"{words}, {end}") for end in ends for what, words in CHARTS.items()]
    drawn = {one: _drawn(settings, named, one) is not None for one, _ in pictures}
    return html(
        request,
        "charts.html",
        stem=named.stem,
        bike=named.bike,
        pictures=[
            (f"/bike/{quote(named.stem)}/charts/{name}.png", words) for name, words in pictures if drawn[name]
        ],
        left_out=[words for name, words in pictures if not drawn[name]],
    )


def chart(request: Request) -> Response:
    """Give a chart, PNG."""
    from starlette.exceptions import HTTPException
    from starlette.responses import Response

    settings = garage_of(request).settings
    named = bike_of(request)
    content = _drawn(settings, named, request.path_params["chart"])
    if content is None:
        raise HTTPException(404)
    return Response(content, media_type="image/png")


def _ends(settings: GarageSettings, named: BikeNamed) -> tuple[EndAdvice, ...]:
    with Logbook.open(place(settings.logbook), create=False) as logbook:
        return ends_asked(logbook, named.bike)


@dataclass(frozen=True)
class DrawnFrom:
    """What charts are drawn from: they are drawn anew where it has changed.

    Attributes
    ----------
    logbook_ns : int
        Time of the logbook's last change.
    bike_sha256 : str
        Of the bike's file.
    """

    logbook_ns: int
    bike_sha256: str


def _drawn(settings: GarageSettings, named: BikeNamed, name: str) -> bytes | None:
    path = place(settings.logbook)
    now = DrawnFrom(path.stat().st_mtime_ns if path.exists() else 0, named.file.sha256)
    with _drawing:
        return dict(_all_drawn(settings, named.stem, now)).get(name)


@lru_cache(maxsize=4)
def _all_drawn(settings: GarageSettings, stem: str, _now: DrawnFrom) -> tuple[tuple[str, bytes], ...]:
    from strandline.charts.all_charts import charts as every_chart

    named = bike_named(settings, stem)
    try:
        drawn = every_chart(_ends(settings, named), ("png",), settings.units)
        return tuple((one.name, one.files[0][1]) for one in drawn if one.files)
    except ROOM_ERRORS:
        return ()


def _shown(end: EndAdvice, case: CaseAdvice, units: Units) -> CaseShown:
    where = f"{end.facts.end.value.capitalize()}, {case.load.name}"
    said = tuple(in_units(one, units) for one in notes(end, case))
    step = case.step
    if step is None:
        return CaseShown(where, "", "", "", "", "", said)
    done = "" if step.done is None else in_units(step.done, units)
    if done:
        done = f"{'Done' if step.action is Action.FOUND else 'No further step'}: {done}"
    sure = " ".join(how_sure(case, units)) if case.rides else ""
    last = read(case, units) if case.rides else ""
    return CaseShown(where, do(end, case), done, sure, " ".join(why(case, units)), last, said)

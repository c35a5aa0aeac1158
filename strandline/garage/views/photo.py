"""Photos: sending one, its picture, and its reading."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from strandline.garage.bikes import known_bike
from strandline.garage.photos.store import StoredPhoto
from strandline.garage.server.garage import Garage, garage_of
from strandline.garage.server.pages import html
from strandline.garage.views.reading_shown import reading_shown
from strandline.garage.views.uploads import send_photo

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

# The page of a photo waits so long for its reading, s, then it says that it is being read, and asks again.
WAIT_S = 8.0


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/photos", send_photo, methods=["POST"]),
        Route("/photo/{photo_id}", photo),
        Route("/photo/{photo_id}/picture.jpg", picture),
        Route("/photo/{photo_id}/drawn.jpg", drawn),
    ]


async def photo(request: Request) -> Response:
    """Show a photo and its reading, as soon as it is read."""
    from starlette.concurrency import run_in_threadpool

    garage = garage_of(request)
    photo_id = request.path_params["photo_id"]
    running = garage.reader.running(garage.store.get(photo_id).id)
    if running is not None:
        await asyncio.wait([asyncio.wrap_future(running)], timeout=WAIT_S)
    return await run_in_threadpool(_photo, request, photo_id)


def _photo(request: Request, photo_id: str) -> Response:
    garage = garage_of(request)
    one = garage.store.get(photo_id)
    if one.subject.purpose == "day":
        return html(request, "day_photo.html", photo=one)
    bike = known_bike(garage.settings, one.subject.bike).bike
    shown = (
        None
        if one.record is None
        else reading_shown(one.record, bike.leg(one.subject.leg), garage.settings.units)
    )
    return html(
        request,
        "photo.html",
        photo=one,
        bike=bike,
        shown=shown,
        stem=one.subject.bike,
        back=_back(garage, one),
        again=_again(one),
        good_before=_good_before(garage, one),
    )


def _back(garage: Garage, photo: StoredPhoto) -> str:
    """Address of the ride or the sag that the photo belongs to."""
    return f"/bike/{quote(photo.subject.bike)}/{'sag' if photo.subject.purpose == 'sag' else 'ride'}"


def _again(photo: StoredPhoto) -> str:
    """Address of the page that takes this photo again."""
    if photo.subject.purpose != "sag":
        return f"/bike/{quote(photo.subject.bike)}/ride/{photo.subject.leg.value}"
    place = f"{photo.subject.leg.value}/{photo.subject.state.value}/{photo.subject.approach.value}"
    return f"/bike/{quote(photo.subject.bike)}/sag/{place}"


def _good_before(garage: Garage, photo: StoredPhoto) -> StoredPhoto | None:
    """Find the last good photo of the same for a refused one: it stays."""
    if photo.is_good or photo.is_waiting:
        return None
    same = [
        one
        for one in garage.store.of_draft(photo.subject.draft)
        if one.is_good
        and (one.subject.leg, one.subject.state, one.subject.approach)
        == (photo.subject.leg, photo.subject.state, photo.subject.approach)
    ]
    return same[-1] if same else None


def picture(request: Request) -> Response:
    """Give the plain picture."""
    return _jpeg(garage_of(request).store.picture_path(request.path_params["photo_id"]))


def drawn(request: Request) -> Response:
    """Give the picture with the reading drawn on it."""
    return _jpeg(garage_of(request).store.drawn_path(request.path_params["photo_id"]))


def _jpeg(path: Path) -> Response:
    from starlette.exceptions import HTTPException
    from starlette.responses import Response

    try:
        return Response(path.read_bytes(), media_type="image/jpeg")
    except OSError:
        raise HTTPException(404) from None

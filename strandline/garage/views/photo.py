"""Photos: sending one, its picture, and its reading."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.garage.bikes import known_bike
from strandline.garage.server.garage import garage_of
from strandline.garage.server.pages import html
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
    bike = known_bike(garage.settings, one.subject.bike).bike
    return html(request, "photo.html", photo=one, bike=bike)


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

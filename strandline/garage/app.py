"""The pages of a garage as one ASGI application."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Any

import click

from strandline.garage.photos.store import UnknownPhoto
from strandline.garage.server.garage import Garage
from strandline.garage.server.guard import Guard
from strandline.garage.server.pages import message_page, static
from strandline.garage.settings import GarageSettings
from strandline.shared.files import OutputError
from strandline.shared.messages import ROOM_ERRORS, sentence

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def create_app(settings: GarageSettings) -> Starlette:
    """Make the application; its workers start with the server.

    Parameters
    ----------
    settings : GarageSettings

    Raises
    ------
    OutputError
        The folder for photos cannot be made.
    """
    from anyio import to_thread
    from starlette.applications import Starlette
    from starlette.middleware import Middleware

    garage = Garage.of(settings)
    # A form that is damaged is answered in words; what its parser says of each byte is nothing for a terminal.
    logging.getLogger("python_multipart").addHandler(logging.NullHandler())

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        garage.workers.start()
        garage.reader.start()
        if garage.day is not None:
            garage.day.start()
        yield
        if garage.day is not None:
            await to_thread.run_sync(garage.day.close)
        garage.close()

    refusals: dict[Any, Any] = dict.fromkeys((*ROOM_ERRORS, OutputError, click.ClickException), _refused)
    app = Starlette(
        routes=_routes(),
        lifespan=lifespan,
        middleware=[Middleware(Guard, garage=garage, refused=message_page)],
        exception_handlers={404: _not_found, 405: _not_found, UnknownPhoto: _not_found, **refusals},
    )
    app.state.garage = garage
    return app


def _routes() -> list[Route]:
    from starlette.routing import Route

    from strandline.garage.views import advice, bike, day, home, new_bike, phones, photo, recorded, ride, sag

    subjects = (home, phones, new_bike, bike, ride, recorded, photo, sag, advice, day)
    pages = [route for subject in subjects for route in subject.routes()]
    return [*pages, *_of_the_hand(), Route("/static/{name}", static), Route("/favicon.ico", static)]


def _of_the_hand() -> list[Route]:
    """Pages of marking by hand, in a folder of their own."""
    from importlib.util import find_spec

    if find_spec("strandline.garage.marking") is None:
        return []
    from strandline.garage.marking.routes import routes  # type: ignore[import-not-found,unused-ignore]

    return list(routes)


def _not_found(request: Request, error: Exception) -> Response:
    return message_page(404, "There is no such page.", "Go back to the garage.")


def _refused(request: Request, error: Exception) -> Response:
    """Say what a command would have said; places of files on this machine are left out."""
    what, advice = _said(error)
    own = str(request.app.state.garage.settings.folder.parent)
    return message_page(400, what.replace(f"{own}/", ""), advice.replace(f"{own}/", ""))


def _said(error: Exception) -> tuple[str, str]:
    if isinstance(error, ROOM_ERRORS):
        return sentence(error.message), sentence(error.remedy)
    return sentence(getattr(error, "message", "") or str(error)), ""

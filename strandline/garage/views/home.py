"""The first page: the bikes, and what is next for each; the phones, and the code that pairs one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strandline.garage.server.garage import garage_of
from strandline.garage.server.pages import html
from strandline.shared.storage import bikes_folder, bikes_in, quick_name

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [Route("/", home)]


def home(request: Request) -> Response:
    """List the bikes."""
    settings = garage_of(request).settings
    bikes = [(path.stem, quick_name(path) or path.stem) for path in bikes_in(bikes_folder(settings.logbook))]
    return html(request, "garage.html", bikes=bikes)

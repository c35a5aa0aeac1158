"""HTML pages of the garage from their templates, and its style and scripts."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from strandline.garage.settings import Limits
from strandline.shared.html import environment

if TYPE_CHECKING:
    from jinja2 import Environment
    from starlette.requests import Request
    from starlette.responses import Response

TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}

ICON = "icon.svg"
"""What browsers ask for by themselves, under a name of their own."""

STATIC_FOLDERS = ("strandline.garage", "strandline.garage.marking")
"""Packages whose folder ``static`` is served under /static/."""


DAY_FILES = ("day.css", "day.js")
"""Of a tech day's page, which holds them itself where it is a file."""


@cache
def _templates() -> Environment:
    from jinja2 import ChoiceLoader, PackageLoader

    from strandline.garage.server.words import FILTERS

    found = environment("strandline.garage", FILTERS)
    found.globals["most_photo_bytes"] = lambda: Limits().photo_bytes
    assert found.loader is not None
    loaders = [found.loader]
    if files("strandline.garage").joinpath("marking/templates").is_dir():
        loaders.append(PackageLoader("strandline.garage.marking"))
    found.loader = ChoiceLoader(loaders)
    return found


def html(request: Request, template: str, **values: Any) -> Response:
    """Fill a template in; with a `problem`, the form's answer is that what was sent cannot be taken (400)."""
    from starlette.responses import HTMLResponse

    visitor = getattr(request.state, "visitor", None)
    text = _templates().get_template(template).render(visitor=visitor, path=request.url.path, **values)
    return HTMLResponse(text, 400 if values.get("problem") else 200)


def message_page(status: int, what: str, advice: str) -> Response:
    """Say what is the matter and what to do."""
    from starlette.responses import HTMLResponse

    text = _templates().get_template("message.html").render(visitor=None, path="", what=what, advice=advice)
    return HTMLResponse(text, status)


@cache
def static_files() -> dict[str, tuple[bytes, str]]:
    """Read all style sheets and scripts: their content and type by name. No other file is ever served so."""
    found = {}
    for package in STATIC_FOLDERS:
        folder = files("strandline.garage")
        for part in package.split(".")[2:]:
            folder = folder.joinpath(part)
        folder = folder.joinpath("static")
        if not folder.is_dir():
            continue
        for one in folder.iterdir():
            kind = TYPES.get("." + one.name.rpartition(".")[2])
            if kind is not None:
                found[one.name] = (one.read_bytes(), kind)
    for name in DAY_FILES:
        content = files("strandline.day.output").joinpath("templates", name).read_bytes()
        found[name] = (content, TYPES["." + name.rpartition(".")[2]])
    return found


def static(request: Request) -> Response:
    """Serve a style sheet or a script."""
    from starlette.exceptions import HTTPException
    from starlette.responses import Response

    found = static_files().get(request.path_params.get("name", ICON))
    if found is None:
        raise HTTPException(404)
    return Response(found[0], media_type=found[1])

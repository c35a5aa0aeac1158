"""Phones: the code that pairs one, pairing, and those that are paired."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import garage_of, visitor_of
from strandline.garage.server.pages import html, message_page
from strandline.garage.server.session import COOKIE, NAME_LENGTH, SESSION_S, PairingRefused

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def routes() -> list[Route]:
    """List the pages."""
    from starlette.routing import Route

    return [
        Route("/phones", phones),
        Route("/phones/code.svg", code_picture),
        Route("/phones/forget", taking_form(forget), methods=["POST"]),
        Route("/pair/{code}", ask_pairing),
        Route("/pair/{code}", taking_form(pair), methods=["POST"]),
    ]


def phones(request: Request) -> Response:
    """Show the code, and who is paired."""
    garage = garage_of(request)
    address = garage.settings.pairing_address
    return html(
        request,
        "phones.html",
        phones=garage.sessions.phones(),
        link=None if address is None else f"{address}/pair/{garage.sessions.code()}",
        kept=len(garage.store),
    )


def code_picture(request: Request) -> Response:
    """Draw the code that a phone scans."""
    from starlette.exceptions import HTTPException
    from starlette.responses import Response

    garage = garage_of(request)
    address = garage.settings.pairing_address
    if address is None:
        raise HTTPException(404)
    return Response(code_svg(f"{address}/pair/{garage.sessions.code()}"), media_type="image/svg+xml")


def code_svg(link: str) -> bytes:
    """Draw a link as a code to scan (ISO/IEC 18004), dark on white whatever the page's colours."""
    import segno

    buffer = io.BytesIO()
    segno.make(link, error="m", micro=False).save(
        buffer, kind="svg", scale=8, border=4, dark="#000", light="#fff", xmldecl=False, nl=False
    )
    return buffer.getvalue()


def forget(request: Request, form: Form) -> Response:
    """End a phone's pairing."""
    from starlette.responses import RedirectResponse

    garage_of(request).sessions.forget(form.text("key"))
    return RedirectResponse("/phones", 303)


def ask_pairing(request: Request) -> Response:
    """Ask the phone for its name; the code is not used up by looking at this page."""
    return html(request, "pair.html", code=request.path_params["code"], name_length=NAME_LENGTH)


def pair(request: Request, form: Form) -> Response:
    """Pair the phone.

    The answer is a page that leads on by itself: after a scan the next page would be asked for without the cookie,
    which browsers keep from what began on another site.
    """
    garage = garage_of(request)
    assert request.client is not None
    try:
        cookie = garage.sessions.pair(request.path_params["code"], form.text("name"), request.client.host)
    except PairingRefused as error:
        advice = "" if error.too_many else "Scan the code that the laptop shows now."
        return message_page(429 if error.too_many else 403, str(error), advice)
    answer = html(request, "paired.html")
    answer.set_cookie(COOKIE, cookie, max_age=int(SESSION_S), httponly=True, samesite="strict", path="/")
    return answer


def is_own(request: Request, key: str) -> bool:
    """Whether a paired phone is the one that asks."""
    return visitor_of(request).key == key

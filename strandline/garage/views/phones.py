"""Phones: the code that pairs one, pairing, and those that are paired."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from strandline.garage.photos.store import StoredPhoto
from strandline.garage.server.forms import Form, taking_form
from strandline.garage.server.garage import Garage, garage_of, visitor_of
from strandline.garage.server.pages import html, message_page
from strandline.garage.server.session import COOKIE, NAME_LENGTH, SESSION_S, PairingRefused
from strandline.shared.storage import bikes_folder, bikes_in

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
        Route("/phones/tidy", taking_form(tidy), methods=["POST"]),
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
        done=len(_done(garage)),
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


def tidy(request: Request, form: Form) -> Response:
    """Delete the photos that belong to nothing in progress; only who sits at the laptop may."""
    from starlette.exceptions import HTTPException
    from starlette.responses import RedirectResponse

    garage = garage_of(request)
    if not visitor_of(request).is_laptop:
        raise HTTPException(404)
    for one in _done(garage):
        garage.store.forget(one.id)
    return RedirectResponse("/phones", 303)


def _done(garage: Garage) -> list[StoredPhoto]:
    """List the photos of rides, sags and days that are recorded, or were given up."""
    stems = [path.stem for path in bikes_in(bikes_folder(garage.settings.logbook))]
    drafts = [kind.begun(stem) for kind in (garage.rides, garage.sags) for stem in stems]
    open_numbers = {one.number for one in drafts if one is not None}
    return [
        one for one in garage.store.photos() if not one.is_waiting and one.subject.draft not in open_numbers
    ]


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

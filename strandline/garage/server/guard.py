"""Every request passes here first: host, origin, size, pairing; every answer gets its headers here."""

from __future__ import annotations

import ipaddress
from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING

from strandline.garage.server.session import COOKIE, Visitor
from strandline.shared.messages import print_fault

if TYPE_CHECKING:
    from starlette.responses import Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from strandline.garage.server.garage import Garage

READS, CHANGES = ("GET", "HEAD"), ("POST",)

OPEN_TO_ALL = ("/pair/", "/static/")
"""Paths that answer a phone that is not paired yet."""

LARGE = ("/photos", "/day/photos")
"""Paths that take a photo; they count its bytes themselves."""

# Content Security Policy Level 3 (W3C): nothing from elsewhere, no script and no style within a page; blob: shows a
# photo before it is sent, data: the small pictures of a tech day's page.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # A page's own address goes to no other host; with no-referrer, browsers send the origin of a form as null.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"geolocation=(), microphone=(), interest-cohort=()"),
    (b"cache-control", b"no-store"),
)


class Guard:
    """ASGI middleware round all pages.

    Parameters
    ----------
    app : ASGI application
    garage : Garage
    refused : function of (int, str, str)
        From status, what is the matter and what to do, to an answer.
    """

    def __init__(self, app: ASGIApp, garage: Garage, refused: Callable[[int, str, str], Response]) -> None:
        self.app = app
        self.garage = garage
        self.refused = refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        started = False

        async def with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message = {**message, "headers": _with_headers(message["headers"])}
            await send(message)

        from starlette.requests import ClientDisconnect

        answer = self._refusal(scope)
        if answer is None:
            try:
                limit = None if scope["path"] in LARGE else self.garage.settings.limits.form_bytes
                await self.app(scope, receive if limit is None else _limited(receive, limit), with_headers)
                return
            except TooLarge:
                answer = self.refused(413, "That was too long.", "Send less text.")
            except ClientDisconnect:  # who sent half of a form and hung up gets no answer
                return
            except TooSlow:
                answer = self.refused(408, "The form came too slowly.", "Go nearer to the laptop.")
            except Exception:
                print_fault()
                answer = self.refused(500, "The program failed here.", "Go back and try again.")
            if started:
                return
        await answer(scope, receive, with_headers)

    def _refusal(self, scope: Scope) -> Response | None:
        """Refuse a request, or note its visitor and let it in."""
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        hosts = [value for name, value in scope["headers"] if name == b"host"]
        method, path = scope["method"], scope["path"]
        if len(hosts) != 1 or headers["host"].lower() not in self.garage.settings.hosts:
            return self.refused(421, "This address is not the garage's.", "Scan the code on the laptop.")
        if method not in (*READS, *CHANGES):
            return self.refused(405, "That cannot be done here.", "Go back to the garage.")
        if method in CHANGES and not _same_origin(headers):
            return self.refused(
                403, "Another page asked for this change.", "Open the garage and do it there."
            )
        if path not in LARGE and _length(headers) > self.garage.settings.limits.form_bytes:
            return self.refused(413, "That was too long.", "Send less text.")
        visitor = self._visitor(scope, headers)
        if visitor is None and not path.startswith(OPEN_TO_ALL):
            return self.refused(401, "This phone is not paired.", "Scan the code on the laptop's screen.")
        scope.setdefault("state", {})["visitor"] = visitor
        return None

    def _visitor(self, scope: Scope, headers: Mapping[str, str]) -> Visitor | None:
        if is_this_machine(scope):
            return Visitor("", True)
        cookie = cookie_in(headers.get("cookie", ""))
        return None if cookie is None else self.garage.sessions.visitor(cookie)


class TooLarge(Exception):
    """A body that is longer than its limit."""


class TooSlow(Exception):
    """A body that is not there in time."""


def is_this_machine(scope: Scope) -> bool:
    """Whether a request came over the loopback: its address is the connection's, no header is believed."""
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def cookie_in(header: str) -> str | None:
    """Find the garage's cookie in a header, the last of that name.

    It is never quoted (RFC 6265, section 4.1.1). Python's own parser is not asked: before 3.11.10 and 3.12.6 a quoted
    value of 60 kB kept it for 8 s (CVE-2024-7592), and anyone in the network may send one.
    """
    found = None
    for part in header.split(";"):
        name, _, value = part.partition("=")
        if name.strip() == COOKIE:
            found = value.strip()
    return found


def _same_origin(headers: Mapping[str, str]) -> bool:
    """Whether a change comes from a page of this server: by its Origin, which browsers send with every POST."""
    return headers.get("origin", "").lower() == f"http://{headers['host'].lower()}"


def _length(headers: Mapping[str, str]) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() else 0


def _limited(receive: Receive, limit: int) -> Callable[[], Awaitable[Message]]:
    """Count the bytes of a body, whatever its header says."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > limit:
                raise TooLarge
        return message

    return counted


def _with_headers(given: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    named = {name for name, _ in given}
    return [*given, *(one for one in HEADERS if one[0] not in named)]

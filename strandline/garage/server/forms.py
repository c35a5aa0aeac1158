"""Forms of a page: their fields, and the pages that take them."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import parse_qs

from strandline.garage.server.guard import TooSlow
from strandline.garage.settings import Limits

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

# Fields of a form; the longest has some thirty.
MOST_FIELDS = 200


@dataclass(frozen=True)
class Form:
    """Fields as they were filled in, without blanks round them."""

    fields: dict[str, tuple[str, ...]]

    def text(self, name: str) -> str:
        """Give a field; "" where it is missing or empty."""
        return self.fields.get(name, ("",))[0]

    def given(self, name: str) -> str | None:
        """Give a field; None where it is missing or empty."""
        return self.text(name) or None

    def texts(self, name: str) -> tuple[str, ...]:
        """Give all values of a field, without empty ones."""
        return tuple(one for one in self.fields.get(name, ()) if one)


def taking_form(page: Callable[[Request, Form], Response]) -> Callable[[Request], Awaitable[Response]]:
    """Make a page that takes a form from one that gets its fields; which runs in a thread: it may wait for a disk."""

    async def answer(request: Request) -> Response:
        from starlette.concurrency import run_in_threadpool

        try:
            body = await asyncio.wait_for(request.body(), Limits().piece_s)
        except TimeoutError as error:
            raise TooSlow from error
        return await run_in_threadpool(page, request, parsed(body))

    return answer


def parsed(body: bytes) -> Form:
    """Read a form's fields (application/x-www-form-urlencoded); what is none has no fields."""
    try:
        found = parse_qs(body.decode("ascii"), keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except (ValueError, UnicodeDecodeError):
        found = {}
    return Form({name: tuple(one.strip() for one in values) for name, values in found.items()})

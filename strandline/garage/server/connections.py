"""The server's end at Ctrl-C, and connections with a limit: whoever is too slow or opens too many is cut off."""

from __future__ import annotations

import asyncio
import time
from types import FrameType
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

# A second Ctrl-C counts as one of its own after so long, s: some terminals send two.
AGAIN_S = 1.0
# A request's head is sent at once by any browser; a weak network takes seconds, hence a quarter of a minute [a choice].
HEAD_S = 15.0
# A page or photo of which nothing is taken for so long belongs to a phone that has gone: weak networks pause for
# seconds [a choice, twice the pause that a photo on its way in may make].
UNREAD_S = 40.0
# Browsers open six connections to one host; a phone with several pages open stays below this.
MOST_OF_ONE_ADDRESS = 40


class QuietServer(uvicorn.Server):
    """uvicorn's server, which ends without a traceback at Ctrl-C, also at two of them in a row."""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """End: once asked as far as possible in order, asked again later at once."""
        now = time.monotonic()
        if self._asked is not None and now - self._asked > AGAIN_S:
            self.force_exit = True
        self._asked = self._asked or now
        self.should_exit = True

    _asked: float | None = None


class GuardedConnection(H11Protocol):
    """uvicorn's connection, which waits neither for a request's head nor for an answer to be taken without end."""

    _timer: asyncio.TimerHandle | None = None
    _unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for a request, unless this address has too many connections."""
        super().connection_made(transport)
        own = self.client[0] if self.client else None
        same = [one for one in self.connections if (getattr(one, "client", None) or (None,))[0] == own]
        if len(same) > MOST_OF_ONE_ADDRESS:
            transport.abort()
            return
        self._wait_for_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_waiting()
        self._taken()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Wait for the client to take what was sent."""
        super().pause_writing()
        self._wait_until_taken()

    def resume_writing(self) -> None:
        """Go on: it was taken."""
        self._taken()
        super().resume_writing()

    def _wait_until_taken(self, before: int | None = None) -> None:
        """Look from time to time whether less is left than before; where nothing was taken, hang up."""
        self._taken()
        left = self.transport.get_write_buffer_size()
        if before is not None and left >= before:
            self.transport.abort()
            return
        self._unread = self.loop.call_later(UNREAD_S, self._wait_until_taken, left)

    def _taken(self) -> None:
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None

    def handle_events(self) -> None:
        """Stop waiting once the head is there."""
        super().handle_events()
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop_waiting()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self._wait_for_head()

    def _wait_for_head(self) -> None:
        self._stop_waiting()
        self._timer = self.loop.call_later(HEAD_S, self._too_slow)

    def _stop_waiting(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _too_slow(self) -> None:
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()

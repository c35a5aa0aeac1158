"""Phones that ask and do not take the answer: what waits for them is let go, and who takes it slowly gets it whole."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Iterator
from typing import Any

import pytest

from strandline.garage.server import connections
from tests.helpers.garage_server import free_port, running

# More than the buffers of both ends of a socket hold, bytes.
LONG = 24_000_000


async def long_answer(scope: Any, receive: Any, send: Any) -> None:
    """Answer every request with the same bytes."""
    if scope["type"] == "http":
        length = (b"content-length", str(LONG).encode())
        await send({"type": "http.response.start", "status": 200, "headers": [length]})
        await send({"type": "http.response.body", "body": bytes(LONG)})


@pytest.fixture
def server() -> Iterator[Any]:
    """Serve it as the garage's pages are served."""
    import uvicorn

    config = uvicorn.Config(
        long_answer, host="127.0.0.1", port=free_port(), http=connections.GuardedConnection, log_level="error"
    )
    with running(uvicorn.Server(config)) as found:
        yield found


@contextlib.contextmanager
def asked(server: Any) -> Iterator[socket.socket]:
    """Ask for the answer, and take nothing."""
    with socket.create_connection(("127.0.0.1", server.config.port), 20) as raw:
        raw.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        yield raw


def test_an_answer_that_nobody_takes_is_let_go(server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "UNREAD_S", 0.2)
    with asked(server):
        until = time.monotonic() + 20
        while not server.server_state.connections and time.monotonic() < until:
            time.sleep(0.01)
        assert server.server_state.connections
        while server.server_state.connections and time.monotonic() < until:
            time.sleep(0.01)
        assert not server.server_state.connections


def test_an_answer_that_is_taken_slowly_arrives_whole(server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes several times as long as an unread answer is kept."""
    monkeypatch.setattr(connections, "UNREAD_S", 0.5)
    begun, seen = time.monotonic(), 0
    with asked(server) as raw:
        while seen < LONG and (piece := raw.recv(400_000)):
            seen += len(piece)
            time.sleep(0.02)
    assert seen >= LONG
    assert time.monotonic() - begun > 1.0

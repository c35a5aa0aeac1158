"""Requests whose end is not where it seems (RFC 9112, sections 6.3 and 11.2), and many connections that wait.

There is no proxy before a garage; what is tested here is that no second request within a body passes the guard
unseen, and that no such request holds the server.
"""

from __future__ import annotations

import socket
import time

import pytest

from tests.helpers.garage_server import BIKE, Served


def raw(phone: Served, content: bytes, patience_s: float = 5.0) -> bytes:
    """Send bytes, and give all that comes back until the server closes or nothing comes for a while."""
    found = b""
    with socket.create_connection(("127.0.0.1", phone.port), patience_s) as one:
        one.settimeout(1.0)
        one.sendall(content)
        try:
            while piece := one.recv(65_536):
                found += piece
        except (TimeoutError, ConnectionResetError):
            pass
    return found


def head(phone: Served, method: str, path: str, *more: str, host: str | None = None) -> bytes:
    lines = [
        f"{method} {path} HTTP/1.1",
        f"Host: {host or f'127.0.0.1:{phone.port}'}",
        f"Origin: {phone.address}",
        f"Cookie: {phone.cookie}",
        "Content-Type: application/x-www-form-urlencoded",
        *more,
    ]
    return "\r\n".join(lines).encode() + b"\r\n\r\n"


FORGET = "/phones/forget"


@pytest.mark.parametrize(
    "more",
    [
        ("Content-Length: 5", "Transfer-Encoding: chunked"),
        ("Content-Length: 5", "Content-Length: 50"),
        ("Content-Length: 5, 50",),
        ("Content-Length: +5",),
        ("Content-Length: -1",),
        ("Content-Length: 0x5",),
        ("Content-Length: \u0665",),
        ("Transfer-Encoding: xchunked",),
        ("Transfer-Encoding: chunked, identity",),
        ("Transfer-Encoding : chunked", "Content-Length: 5"),
        ("Transfer-Encoding:\x0bchunked", "Content-Length: 5"),
        ("X: 1\r\n Content-Length: 5",),
        ("X: 1\nContent-Length: 5",),
    ],
)
def test_a_request_hidden_in_a_body_is_no_request(phone: Served, more: tuple[str, ...]) -> None:
    """The hidden one would forget this phone; it stays paired, and the server answers the next."""
    gone = phone.garage.sessions.phones()[0].key
    inner = f"key={gone}".encode()
    hidden = head(phone, "POST", FORGET, f"Content-Length: {len(inner)}", host="evil.example") + inner
    answer = raw(phone, head(phone, "POST", f"/bike/{BIKE}/ride", *more) + b"0\r\n\r\n" + hidden)
    assert all(
        one[:3] in (b"400", b"403", b"413", b"421", b"303", b"411") for one in answer.split(b"HTTP/1.1 ")[1:]
    ), answer
    assert phone.get("/").status == 200
    assert gone in {one.key for one in phone.garage.sessions.phones()}


def test_each_request_of_one_connection_passes_the_guard(phone: Served) -> None:
    """Two in a row (RFC 9112, 9.3.2): the second with another host, the third with another origin."""
    first = head(phone, "GET", "/here")
    second = head(phone, "GET", "/here", host="evil.example")
    third = head(phone, "POST", FORGET, "Content-Length: 0").replace(
        phone.address.encode(), b"http://evil.example"
    )
    answers = raw(phone, first + second + third).split(b"HTTP/1.1 ")[1:]
    assert [one[:3] for one in answers][:1] == [b"204"] and all(
        one[:3] in (b"421", b"403") for one in answers[1:]
    )


def test_an_address_with_another_host_in_it(phone: Served) -> None:
    """RFC 9112, 3.2.2: an absolute address counts before the header."""
    answer = raw(phone, head(phone, "GET", "http://evil.example/phones"))
    assert answer.split()[1] in (b"400", b"404", b"421")


@pytest.mark.parametrize(
    "body",
    [
        b"FFFFFFFFFFFFFFFFF\r\nx",
        b"-1\r\nx",
        b"5;" + b"a" * 100_000 + b"\r\nroute\r\n0\r\n\r\n",
        b"1\r\nx\r\n" * 5 + b"0\r\n" + b"X: y\r\n" * 5_000 + b"\r\n",
        b"zz\r\n",
    ],
)
def test_chunks_of_wrong_sizes(phone: Served, body: bytes) -> None:
    began = time.monotonic()
    answer = raw(phone, head(phone, "POST", f"/bike/{BIKE}/ride", "Transfer-Encoding: chunked") + body)
    assert b" 500 " not in answer[:40] and b"Traceback" not in answer
    assert phone.get("/").status == 200 and time.monotonic() - began < 20

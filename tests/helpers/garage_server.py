"""A garage that is served for a test: by this process on a real socket, or by the command in a process of its own."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strandline.demo.data import TOML
from strandline.garage.settings import GarageSettings, Limits

if TYPE_CHECKING:
    import uvicorn

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample-images"
FORK, SHOCK = SAMPLES / "upside-down-fork-orange-tie.jpg", SAMPLES / "coil-over-black-o-ring.jpg"
NO_CARD = SAMPLES / "fork-without-card.jpg"
BIKE = "sandpiper"
# For an answer, and for a command to come up, s: moments on a machine at rest, minutes on one with 40 other processes.
PATIENCE_S = 600.0
# An address for documentation (RFC 5737): what the served application takes a phone's for.
PHONE = "198.51.100.7"


def free_port() -> int:
    """Find a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def filled(folder: Path) -> Path:
    """Put the demo's bike into a folder, and give the path of its logbook."""
    (folder / "bikes").mkdir(parents=True, exist_ok=True)
    (folder / "bikes" / f"{BIKE}.toml").write_text(TOML, encoding="utf-8")
    return folder / "logbook.sqlite"


@dataclass(frozen=True)
class Answer:
    """A server's answer."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8", "replace")


@dataclass
class Served:
    """A garage that answers.

    Attributes
    ----------
    port : int
    cookie : str
        Sent with each request.
    """

    port: int
    garage: Any = None
    cookie: str = ""
    headers: dict[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        """Where a browser finds it."""
        return f"http://127.0.0.1:{self.port}"

    def ask(self, method: str, path: str, body: bytes | None = None, /, **headers: str | None) -> Answer:
        """Send a request; a header that is None is left out."""
        sent: dict[str, str | None] = {"Host": f"127.0.0.1:{self.port}"}
        if method != "GET":
            sent["Origin"] = self.address
        if self.cookie:
            sent["Cookie"] = self.cookie
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    connection.putheader(name, value)
            if body is not None:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders()
            with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # refused before all was sent
                if body:
                    connection.send(body)
            found = connection.getresponse()
            return Answer(found.status, {k.lower(): v for k, v in found.getheaders()}, found.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str | None) -> Answer:
        """Ask for a page."""
        return self.ask("GET", path, **headers)

    def post(self, path: str, fields: dict[str, str], **headers: str | None) -> Answer:
        """Send a form."""
        from urllib.parse import urlencode

        kind = {"Content_Type": "application/x-www-form-urlencoded"}
        return self.ask("POST", path, urlencode(fields).encode(), **{**kind, **headers})

    def send_photo(
        self,
        content: bytes,
        fields: dict[str, str] | None = None,
        name: str = "photo.jpg",
        **headers: str | None,
    ) -> Answer:
        """Send a photo as the page's form does; the answer is JSON."""
        given = {"bike": BIKE, "leg": "front-left", "state": "on-wheels", **(fields or {})}
        kind = {"Content_Type": "multipart/form-data; boundary=XX", "Accept": "application/json"}
        return self.ask("POST", "/photos", multipart(given, content, name), **{**kind, **headers})

    def pair(self, name: str = "Phone") -> Served:
        """Pair a phone, and give the garage as that phone sees it."""
        code = self.garage.sessions.code()
        answer = self.post(f"/pair/{code}", {"name": name}, Cookie=None)
        assert answer.status == 200, answer.text
        return Served(self.port, self.garage, answer.headers["set-cookie"].partition(";")[0])


def multipart(fields: dict[str, str], content: bytes, name: str) -> bytes:
    """Write a form with a photo (RFC 7578)."""
    parts = [
        f'--XX\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
        for key, value in fields.items()
    ]
    head = f'--XX\r\nContent-Disposition: form-data; name="photo"; filename="{name}"\r\n'
    return b"".join([*parts, head.encode(), b"Content-Type: image/jpeg\r\n\r\n", content, b"\r\n--XX--\r\n"])


@contextlib.contextmanager
def served(
    folder: Path,
    *,
    limits: Limits | None = None,
    as_phone: bool = True,
    workers: int = 1,
    day: Path | None = None,
) -> Iterator[Served]:
    """Serve a garage in a thread; every request counts as one of a phone's in the network, unless asked otherwise."""
    import uvicorn

    from strandline.garage.app import create_app
    from strandline.garage.server.connections import GuardedConnection

    port = free_port()
    settings = GarageSettings(
        folder / "logbook.sqlite",
        port,
        ("127.0.0.1",),
        day=day,
        workers=workers,
        limits=limits or Limits(),
    )
    app = create_app(settings)

    async def from_phone(scope: Any, receive: Any, send: Any) -> None:
        if as_phone and scope["type"] == "http":
            scope = {**scope, "client": (PHONE, 50000)}
        await app(scope, receive, send)

    config = uvicorn.Config(
        from_phone,
        host="127.0.0.1",
        port=port,
        http=GuardedConnection,
        log_level="error",
        proxy_headers=False,
        server_header=False,
        limit_concurrency=200,
        timeout_graceful_shutdown=2,
        ws="none",
    )
    with running(uvicorn.Server(config)):
        yield Served(port, app.state.garage)


@contextlib.contextmanager
def running(server: uvicorn.Server) -> Iterator[uvicorn.Server]:
    """Run a server in a thread of its own, until the end of the block."""
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
        assert thread.is_alive()
    try:
        yield server
    finally:
        server.should_exit = True
        thread.join(20)


class Command:
    """``strandline garage`` in a process of its own.

    Parameters
    ----------
    process : Popen
    port : int
    """

    def __init__(self, process: subprocess.Popen[str], port: int) -> None:
        self.process = process
        self.port = port
        self.lines: list[dict[str, str]] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for text in self.process.stdout:
            self.lines.append(json.loads(text))

    def line(self, key: str, patience_s: float = PATIENCE_S) -> str:
        """Wait for a line of JSON with a key, and give its value."""
        until = time.monotonic() + patience_s
        while time.monotonic() < until:
            found = [one[key] for one in self.lines if key in one]
            if found:
                return found[0]
            assert self.process.poll() is None, "the command has ended"
            time.sleep(0.02)
        raise AssertionError(f"no line with {key}")

    def kill(self) -> None:
        """End it as the power does."""
        self.process.kill()
        self.process.wait()
        self._reader.join(10)
        assert self.process.stdout is not None
        self.process.stdout.close()

    def wait_until_open(self) -> None:
        """Wait until it answers."""
        self.line("here")
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return
            time.sleep(0.05)
        raise AssertionError("nobody listens")


def command(logbook: Path, port: int, *options: str, before: tuple[str, ...] = ()) -> Command:
    """Start the command."""
    words = [*before, sys.executable, "-m", "strandline", "garage", "--json", "--port", str(port)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(
        [*words, "--logbook", str(logbook), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=ROOT,
        env=environment,
    )
    return Command(process, port)

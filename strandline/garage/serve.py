"""The server: its sockets, its limits on connections, and what the terminal shows."""

from __future__ import annotations

import json
import socket
from dataclasses import replace

import click

from strandline.garage.app import create_app
from strandline.garage.settings import GarageSettings


def serve(settings: GarageSettings, *, lan: bool, as_json: bool) -> None:
    """Serve the pages until Ctrl-C."""
    import uvicorn

    if lan:
        settings = replace(settings, addresses=own_addresses())
    app = create_app(settings)
    here = f"http://127.0.0.1:{settings.port}/"
    click.echo(json.dumps({"here": here}) if as_json else f"On this machine: {here}")
    config = uvicorn.Config(
        app,
        host="0.0.0.0" if lan else "127.0.0.1",
        port=settings.port,
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        limit_concurrency=200,
        ws="none",
    )
    uvicorn.Server(config).run()


def own_addresses() -> tuple[str, ...]:
    """Find the address of this machine in its network.

    Returns
    -------
    tuple of str
        Empty where there is no network.
    """
    # Nothing is sent: connecting a datagram socket only asks the system which way it would go. The address is one
    # for documentation (RFC 5737).
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return ()
        return (str(probe.getsockname()[0]),)

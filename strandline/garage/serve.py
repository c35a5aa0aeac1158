"""The server: its sockets, its limits on connections, and what the terminal shows."""

from __future__ import annotations

import io
import json
import socket
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from strandline.garage.app import create_app
from strandline.garage.settings import GarageSettings
from strandline.shared.messages import printable

if TYPE_CHECKING:
    from starlette.applications import Starlette

    from strandline.garage.server.garage import Garage

# Connections at one time, of all phones: browsers open six each, and twenty phones share a tech day.
MOST_CONNECTIONS = 200
# After Ctrl-C a photo on its way gets so long, s.
LAST_S = 3
# Linux: netdevice(7), SIOCGIFADDR.
_SIOCGIFADDR = 0x8915


def serve(settings: GarageSettings, *, lan: bool, as_json: bool) -> None:
    """Serve the pages until Ctrl-C.

    Parameters
    ----------
    settings : GarageSettings
    lan : bool
        For phones in the same network, too; its addresses are found here unless the settings name one.
    as_json : bool
        Print the addresses as one line of JSON.

    Raises
    ------
    click.ClickException
        There is no network, or the port is taken.
    """
    if lan and not settings.addresses:
        found = own_addresses()
        if not found:
            raise click.ClickException(
                "This machine is in no network. Join one, such as the phone's own hotspot, or leave --lan out."
            )
        settings = replace(settings, addresses=found)
    app = create_app(settings)
    sockets = _all_listening(settings)
    garage: Garage = app.state.garage
    garage.sessions.on_new_code = lambda: _show_code(garage, as_json=as_json)
    _show_addresses(settings, as_json=as_json)
    _show_code(garage, as_json=as_json)
    _run(app, sockets)


def run(app: Starlette, settings: GarageSettings, on_open: Callable[[], None]) -> None:
    """Serve pages until Ctrl-C, and show nothing.

    Parameters
    ----------
    app : Starlette
    settings : GarageSettings
    on_open : function
        Called when the port takes connections.

    Raises
    ------
    click.ClickException
        The port is taken.
    """
    sockets = _all_listening(settings)
    on_open()
    _run(app, sockets)


def _all_listening(settings: GarageSettings) -> list[socket.socket]:
    return [_listening(address, settings.port) for address in ("127.0.0.1", *settings.addresses)]


def _run(app: Starlette, sockets: list[socket.socket]) -> None:
    import uvicorn

    from strandline.garage.server.connections import GuardedConnection, QuietServer

    config = uvicorn.Config(
        app,
        http=GuardedConnection,
        log_level="critical",  # a request that is none is no news; faults are printed by the guard
        access_log=False,
        proxy_headers=False,
        server_header=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_graceful_shutdown=LAST_S,
        ws="none",
    )
    QuietServer(config).run(sockets=sockets)


def _listening(address: str, port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((address, port))
    except OSError as error:
        found.close()
        raise click.ClickException(
            f"{address}, port {port} cannot be used: {error.strerror}. Is a garage open already? Close it, or choose "
            "another with --port."
        ) from error
    found.listen(128)
    return found


def _show_addresses(settings: GarageSettings, *, as_json: bool) -> None:
    here = f"http://127.0.0.1:{settings.port}/"
    if not as_json:
        click.echo(f"On this machine: {here}   (Ctrl-C ends it)")
        return
    click.echo(json.dumps({"here": here, "phones": settings.pairing_address}))
    sys.stdout.flush()


def _show_code(garage: Garage, *, as_json: bool) -> None:
    """Show the code that pairs the next phone."""
    address = garage.settings.pairing_address
    if address is None:
        return
    link = f"{address}/pair/{garage.sessions.code()}"
    if as_json:
        click.echo(json.dumps({"pair": link}))
    else:
        drawn = code_in_blocks(link, colours=sys.stdout.isatty())
        click.echo(f"\nScan this with a phone in the same network; it works once:\n{drawn}{printable(link)}")
        click.echo(f"If the phone finds nothing there, let port {garage.settings.port} through the firewall.")
    sys.stdout.flush()


def code_in_blocks(link: str, *, colours: bool = False) -> str:
    """Draw a link as a code to scan, in half blocks for a terminal.

    Parameters
    ----------
    link : str
    colours : bool
        White on black whatever the terminal's own are (ECMA-48, 8.3.117), so that the code is dark on light on a light
        one, too.
    """
    import segno

    found = io.StringIO()
    segno.make(link, error="l", micro=False).terminal(found, compact=True, border=2)
    lines = found.getvalue().splitlines()
    return "".join(f"\x1b[97;40m{one}\x1b[0m\n" if colours else f"{one}\n" for one in lines)


def own_addresses() -> tuple[str, ...]:
    """Find the IPv4 addresses of this machine in its networks, the one with the way outside first.

    Returns
    -------
    tuple of str
        Empty where there is no network.
    """
    found = [*_way_outside(), *_of_interfaces()]
    return tuple(dict.fromkeys(one for one in found if not one.startswith("127.") and one != "0.0.0.0"))


def _way_outside() -> list[str]:
    # Nothing is sent: connecting a datagram socket only asks the system which way it would go. The address is one
    # for documentation (RFC 5737).
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return []
        return [str(probe.getsockname()[0])]


def _of_interfaces() -> list[str]:
    """Ask each interface for its address; where the system has no such question, the machine's name is looked up."""
    try:
        import fcntl

        names = [name for _, name in socket.if_nameindex()]
    except (ImportError, OSError):
        try:
            return [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
        except OSError:
            return []
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for name in names:
            try:
                answer = fcntl.ioctl(probe, _SIOCGIFADDR, name.encode()[:15].ljust(256, b"\0"))
            except OSError:  # an interface without an address
                continue
            found.append(socket.inet_ntoa(answer[20:24]))
    return found

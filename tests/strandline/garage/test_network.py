"""The garage reached by the machine's own address: server and phone in two network namespaces of the test's own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.browser import chromium, phone_of
from tests.helpers.garage_server import BIKE, FORK, PATIENCE_S, command, filled
from tests.helpers.outside import missing

# Addresses for documentation (RFC 5737), which no network around uses.
LAPTOP, PHONE, PORT = "203.0.113.2", "203.0.113.3", 8427


@pytest.fixture
def spaces() -> Iterator[tuple[str, str]]:
    """Make two namespaces with a cable between them; taken down with all that is in them."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        pytest.skip("network namespaces need Linux and root")
    if shutil.which("ip") is None:
        missing("ip", "install Debian's iproute2")
    one, two = f"garage-{os.getpid()}", f"phone-{os.getpid()}"

    def ip(*words: str) -> None:
        subprocess.run(["ip", *words], check=True, capture_output=True)

    try:
        for name in (one, two):
            ip("netns", "add", name)
        ip("link", "add", "cable0", "netns", one, "type", "veth", "peer", "name", "cable1", "netns", two)
        for name, link, address in ((one, "cable0", LAPTOP), (two, "cable1", PHONE)):
            ip("-n", name, "addr", "add", f"{address}/24", "dev", link)
            ip("-n", name, "link", "set", link, "up")
            ip("-n", name, "link", "set", "lo", "up")
    except subprocess.CalledProcessError as error:
        pytest.skip(f"this machine makes no network namespaces: {error.stderr.decode()[:80]}")
    try:
        yield one, two
    finally:
        for name in (one, two):
            subprocess.run(["ip", "netns", "del", name], capture_output=True)


def test_a_phone_scans_and_sends_over_the_network(spaces: tuple[str, str], tmp_path: Path) -> None:
    """`--lan` finds the machine's address; the phone pairs by the code and sends a photo; without it, nothing."""
    laptop, phone = spaces
    inside = ("ip", "netns", "exec", laptop)
    server = command(filled(tmp_path), PORT, "--lan", before=inside)
    try:
        link = server.line("pair")
        assert link.startswith(f"http://{LAPTOP}:{PORT}/pair/")
        script = tmp_path / "phone.py"
        script.write_text(_SCRIPT)
        words = ["ip", "netns", "exec", phone, sys.executable, str(script), link, str(FORK)]
        found = subprocess.run(words, capture_output=True, text=True, timeout=120, check=False)
        assert found.stdout.split() == ["401", "200", "200", "201", "200", "421", "refused"], found.stderr
    finally:
        server.kill()


def test_a_browser_on_the_phones_side_goes_from_the_code_to_the_reading(
    spaces: tuple[str, str], tmp_path: Path
) -> None:
    """Chromium in the phone's namespace: plain http at the laptop's own address, as in a garage."""
    laptop, phone = spaces
    start = tmp_path / "chromium"
    start.write_text(f'#!/bin/sh\nexec ip netns exec {phone} chromium "$@"\n')
    start.chmod(0o755)
    server = command(filled(tmp_path), PORT, "--lan", before=("ip", "netns", "exec", laptop))
    try:
        link = server.line("pair")
        with chromium(start) as browser:
            page = phone_of(browser).new_page()
            assert page.goto(f"http://{LAPTOP}:{PORT}/").status == 401  # type: ignore[union-attr]
            page.goto(link)
            page.get_by_label("Its name").fill("Phone")
            page.get_by_role("button", name="Pair this phone").tap()
            page.wait_for_url(f"http://{LAPTOP}:{PORT}/")
            page.goto(f"http://{LAPTOP}:{PORT}/bike/{BIKE}/ride/front-left")
            page.locator("form.shot input[type=file]").first.set_input_files(FORK)
            page.locator("img.photo[src$='drawn.jpg']").wait_for()
            assert "mm used" in page.locator(".result").first.inner_text()
            page.context.close()
    finally:
        server.kill()


def test_without_lan_nobody_else_gets_in(spaces: tuple[str, str], tmp_path: Path) -> None:
    laptop, phone = spaces
    server = command(filled(tmp_path), PORT, before=("ip", "netns", "exec", laptop))
    try:
        server.line("here")
        code = f"import socket; socket.create_connection(('{LAPTOP}', {PORT}), 3)"
        found = subprocess.run(
            ["ip", "netns", "exec", phone, sys.executable, "-c", code],
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
        )
        assert "ConnectionRefusedError" in found.stderr
    finally:
        server.kill()


# What a phone does, by Python's own library: there is no browser's script in it.
_SCRIPT = """
import http.client, re, sys, urllib.parse
link, photo = sys.argv[1:]
where = urllib.parse.urlsplit(link)
base = f"http://{where.netloc}"

def ask(method, path, body=None, **headers):
    connection = http.client.HTTPConnection(where.netloc, timeout=600)
    connection.request(method, path, body, {"Origin": base, **headers})
    found = connection.getresponse()
    return found.status, found.getheader("set-cookie"), found.read()

print(ask("GET", "/")[0])
print(ask("GET", where.path)[0])
form = {"Content-Type": "application/x-www-form-urlencoded"}
status, cookie, _ = ask("POST", where.path, b"name=Phone", **form)
print(status)
mine = {"Cookie": cookie.partition(";")[0]}
fields = {"bike": "sandpiper", "leg": "front-left", "state": "on-wheels"}
field = '--XX\\r\\nContent-Disposition: form-data; name="{}"\\r\\n\\r\\n{}\\r\\n'
parts = [field.format(*one).encode() for one in fields.items()]
head = b'--XX\\r\\nContent-Disposition: form-data; name="photo"; filename="x"\\r\\n\\r\\n'
body = b"".join([*parts, head, open(photo, "rb").read(), b"\\r\\n--XX--\\r\\n"])
kind = {"Content-Type": "multipart/form-data; boundary=XX", "Accept": "application/json"}
status, _, answer = ask("POST", "/photos", body, **kind, **mine)
print(status)
page = re.search(rb"/photo/[0-9a-f]+", answer)[0].decode()
print(ask("GET", page, **mine)[0])
print(ask("GET", "/", Host=f"127.0.0.1:{where.port + 1}", **mine)[0])
try:
    http.client.HTTPConnection(where.hostname, where.port + 1, timeout=3).connect()
except OSError:
    print("refused")
"""

"""The common attacks on a server in a shared network, against a garage on a real socket.

The list follows OWASP's (Top Ten 2021 and its cheat sheets on file upload, CSRF, sessions and XSS) as far as it
concerns a server of this kind. Each case counts as one attack; `python -m pytest --collect-only` counts them.
"""

from __future__ import annotations

import http.client
import io
import json
import re
import socket
import struct
import threading
import time
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image

from ridelog.bikes.file import parse_bike
from strandline.demo.data import TOML
from strandline.garage.server import connections
from strandline.garage.server.guard import cookie_in
from strandline.garage.server.session import COOKIE, TRIES
from strandline.garage.settings import Limits
from tests.helpers.garage_server import BIKE, FORK, PATIENCE_S, Answer, Served, filled, multipart, served

SECRET = "not to be read by phones"
PATHS = [
    "/photo/../../../../etc/passwd",
    "/photo/..%2f..%2f..%2fetc%2fpasswd",
    "/photo/%2e%2e%2f%2e%2e%2fphones.json/picture.jpg",
    "/photo/....//....//phones.json/drawn.jpg",
    "/photo/phones.json/picture.jpg",
    "/photo/C%3A%5CWindows%5Cwin.ini/picture.jpg",
    "/photo/%00/picture.jpg",
    "/static/../templates/base.html",
    "/static/..%2ftemplates%2fbase.html",
    "/static/%2e%2e/%2e%2e/app.py",
    "/static//etc/passwd",
    "/bike/..%2f..%2fsecret",
    "/bike/../secret",
    "/bike/secret.toml/ride",
    "/bike/%2e%2e%2fsecret/charts/front-used.png",
    f"/bike/{BIKE}/charts/..%2f..%2fsecret.png",
    f"/bike/{BIKE}/ride/..%2f..%2f",
    "/bikes/new/..%2f..%2fsecret",
    "/day/page/../../secret",
]


@pytest.mark.parametrize("path", PATHS)
def test_no_path_of_a_client_reaches_a_file(phone: Served, path: str) -> None:
    outside = phone.garage.settings.folder.parent.parent / "secret.toml"
    outside.write_text(TOML + f'\n# {SECRET}\nnote = "{SECRET}"\n', encoding="utf-8")
    answer = phone.get(path)
    assert answer.status in (400, 404), answer.text
    assert SECRET not in answer.text and "root:" not in answer.text


@pytest.mark.parametrize(
    "bike", ["../../secret", "../bikes/sandpiper", "/etc/passwd", "sandpiper.toml", "sandpiper\0"]
)
def test_no_field_of_a_form_reaches_a_file(phone: Served, bike: str) -> None:
    (phone.garage.settings.folder.parent.parent / "secret.toml").write_text(TOML, encoding="utf-8")
    photos = len(phone.garage.store)
    assert phone.send_photo(b"x", {"bike": bike}).status == 400
    assert len(phone.garage.store) == photos


@pytest.mark.parametrize(
    "path", ["/static/", "/photo/", "/photos", "/bike/", "/pair/", "/.git/config", "/garage/"]
)
def test_nothing_is_listed(phone: Served, path: str) -> None:
    answer = phone.get(path)
    assert answer.status in (404, 405) and "<li>" not in answer.text


@pytest.mark.parametrize(
    "name", ["../../x.jpg", "/etc/cron.d/x", "..\\..\\x.jpg", "a\x00b.jpg", "x" * 3000, ".json"]
)
def test_a_photos_own_name_is_not_looked_at(phone: Served, name: str) -> None:
    folder = phone.garage.settings.folder.parent.parent
    before = set(folder.rglob("*"))
    answer = phone.send_photo(b"no photo", name=name)
    drafts = re.compile(r"\.strandline-\w{8}\.part")  # a file that is being written has a random name
    new = {path.name for path in set(folder.rglob("*")) - before if not drafts.fullmatch(path.name)}
    assert all(
        len(one.split(".")[0]) in (16, 32) or one == f"{BIKE}.json" or one == "rides" for one in new
    ), new
    assert answer.status in (201, 413)


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", "", "localhost.evil.example"]
)
def test_a_forged_host_is_refused(phone: Served, host: str) -> None:
    assert phone.get("/", Host=host).status == 421


def test_two_hosts_are_refused(phone: Served) -> None:
    with socket.create_connection(("127.0.0.1", phone.port), 5) as raw:
        host = f"127.0.0.1:{phone.port}"
        raw.sendall(f"GET / HTTP/1.1\r\nHost: {host}\r\nHost: evil.example\r\n\r\n".encode())
        assert raw.recv(100).split()[1] in (b"400", b"421")


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", None, "https://127.0.0.1", "http://127.0.0.1:1"]
)
@pytest.mark.parametrize("path", ["/phones/forget", f"/bike/{BIKE}/ride", "/bikes/new", "/photos"])
def test_a_change_from_another_origin_is_refused(phone: Served, path: str, origin: str | None) -> None:
    photos = len(phone.garage.store)
    answer = phone.post(path, {"name": "Forged", "key": "x"}, Origin=origin)
    assert answer.status == 403
    assert len(phone.garage.store) == photos


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "CONNECT", "FOO"])
def test_other_methods_are_refused(phone: Served, method: str) -> None:
    assert phone.ask(method, "/").status in (400, 405)


@pytest.mark.parametrize(
    "path", ["/", f"/bike/{BIKE}", f"/bike/{BIKE}/ride", "/phones", "/phones/code.svg", "/here", "/day"]
)
def test_a_phone_that_is_not_paired_sees_nothing(shared_garage: Served, path: str) -> None:
    answer = shared_garage.get(path)
    assert answer.status == 401 and "Sandpiper" not in answer.text
    assert shared_garage.garage.sessions.code() not in answer.text


@pytest.mark.parametrize(
    "cookie", ["", "strandline_garage=", "strandline_garage=guess", "strandline_garage=" + "A" * 43]
)
def test_a_guessed_cookie_is_refused(shared_garage: Served, cookie: str) -> None:
    assert shared_garage.get("/", Cookie=cookie).status == 401


def test_a_long_quoted_cookie_costs_nothing(shared_garage: Served) -> None:
    """CVE-2024-7592: Python's parser of before 3.11.10 takes 8 s for this one, and all phones wait."""
    begun = time.process_time()
    assert cookie_in(f'{COOKIE}="' + "\\\\" * 30_000 + '"') is not None
    assert time.process_time() - begun < 1.0
    answer = shared_garage.get("/", Cookie=f'{COOKIE}="' + "\\\\" * 30_000 + '"')
    assert answer.status in (401, 431)


@pytest.mark.parametrize(
    "header",
    ["{name}={value}", "a=b; {name}={value}", "{name}=old; {name}={value}", " {name} = {value} ;;=;x"],
)
def test_a_phone_is_known_by_its_cookie_among_others(phone: Served, header: str) -> None:
    name, _, value = phone.cookie.partition("=")
    assert phone.get("/", Cookie=header.format(name=name, value=value)).status == 200


@pytest.mark.parametrize("name", ["X-Forwarded-For", "X-Real-IP", "Forwarded", "X-Client-IP"])
def test_no_header_makes_a_phone_this_machine(shared_garage: Served, name: str) -> None:
    assert shared_garage.ask("GET", "/", **{name: "127.0.0.1"}).status == 401


def test_a_code_works_once(shared_garage: Served) -> None:
    code = shared_garage.garage.sessions.code()
    assert shared_garage.post(f"/pair/{code}", {"name": "First"}).status == 200
    assert shared_garage.post(f"/pair/{code}", {"name": "Replayed"}).status == 403
    assert shared_garage.garage.sessions.code() != code


def test_looking_at_a_code_does_not_use_it_up(shared_garage: Served) -> None:
    code = shared_garage.garage.sessions.code()
    for _ in range(3):  # as programs do that look ahead at a link
        assert shared_garage.get(f"/pair/{code}").status == 200
    assert shared_garage.garage.sessions.code() == code


def test_codes_cannot_be_tried_without_end(tmp_path: Path) -> None:
    filled(tmp_path)
    with served(tmp_path) as garage:
        statuses = [garage.post(f"/pair/guess-{n}", {"name": "x"}).status for n in range(TRIES + 3)]
        assert statuses == [403] * TRIES + [429] * 3
        good = garage.garage.sessions.code()
        assert (
            garage.post(f"/pair/{good}", {"name": "x"}).status == 429
        )  # from this address not even the right one


def test_a_cookie_is_out_of_scripts_reach_and_stays_here(shared_garage: Served) -> None:
    answer = shared_garage.post(f"/pair/{shared_garage.garage.sessions.code()}", {"name": "x"})
    words = {one.strip().lower() for one in answer.headers["set-cookie"].split(";")[1:]}
    assert {"httponly", "samesite=strict", "path=/"} <= words


def test_the_file_of_phones_has_no_cookie(phone: Served) -> None:
    kept = phone.garage.sessions.file
    assert phone.cookie.partition("=")[2] not in kept.read_text()
    assert kept.stat().st_mode & 0o077 == 0


def test_a_forgotten_phone_is_out(shared_garage: Served) -> None:
    gone = shared_garage.pair("Gone")
    key = next(one.key for one in shared_garage.garage.sessions.phones() if one.name == "Gone")
    assert gone.post("/phones/forget", {"key": key}).status == 303
    assert gone.get("/").status == 401


SCRIPT = "<script>alert(1)</script>"
BREAKS_OUT = '"><img src=x onerror=alert(1)>'


@pytest.mark.parametrize("text", [SCRIPT, BREAKS_OUT, "{{ 7*191 }}", "javascript:alert(1)", "\u202e\x1b[31m"])
def test_script_in_every_name_stays_text(tmp_path: Path, text: str) -> None:
    logbook = filled(tmp_path)
    with served(tmp_path, as_phone=False) as laptop:
        toml = (
            (tmp_path / "bikes" / f"{BIKE}.toml").read_text().replace('note = "Invented for the demo."', "")
        )
        name = "".join(one for one in text if one.isprintable()).replace('"', '\\"')
        bike = tmp_path / "bikes" / "other.toml"
        bike.write_text(toml.replace('name = "Sandpiper (invented)"', f'name = "{name}"'), encoding="utf-8")
        assert parse_bike(bike.read_text(), "other").bike.name
        fields = dict.fromkeys(("route", "load", "note", "event", "temperature", "date", "print_scale"), text)
        laptop.post("/bike/other/ride", {**fields, "go": ""})
        kept = {"route": text, "load": text, "note": text, "event": text, "setting:front.preload": "2"}
        recorded = laptop.post("/bike/other/ride", {**kept, "go": "record"})
        assert recorded.status == 303, recorded.text
        code = laptop.garage.sessions.code()
        laptop.post(f"/pair/{code}", {"name": text})
        laptop.post("/bikes/new", {"name": text})
        pages = [
            "/",
            "/phones",
            "/bike/other",
            "/bike/other/ride",
            "/bike/other/history",
            f"/pair/{text.encode().hex()}",
        ]
        pages += [
            recorded.headers["location"],
            "/bike/other/sag",
            "/bike/other/ride/front-left",
            "/bike/other/advice",
            "/bikes/new/script-alert-1-script",
        ]
        for page in pages:
            body = laptop.get(page).text
            assert SCRIPT not in body and "<img src=x" not in body and "1337" not in body, page
            assert 'href="javascript:' not in body and "\x1b" not in body
    assert logbook.exists()


def test_every_answer_forbids_scripts_in_pages(phone: Served) -> None:
    for path in ("/", "/static/photos.js", "/photo/none", "/phones", f"/bike/{BIKE}/ride", "/nowhere"):
        policy = phone.get(path).headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy and "form-action 'self'" in policy
        assert phone.get(path).headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "page", ["/", "/phones", f"/bike/{BIKE}", f"/bike/{BIKE}/ride", f"/bike/{BIKE}/sag", "/bikes/new"]
)
def test_no_page_has_script_or_style_in_it_or_anything_from_elsewhere(phone: Served, page: str) -> None:
    import re

    text = phone.get(page).text
    assert not re.search(r"<script(?![^>]*\bsrc=\"/)|<style|\sstyle=|\son[a-z]+=", text)
    assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", text)


def _bomb() -> bytes:
    """Make a PNG of 30000 x 30000 px in a few kB: 2.7 GB of pixels."""
    rows = zlib.compress(b"\0" * (1 << 20), 9)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 30000, 30000, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def _huge_jpeg() -> bytes:
    """Make a JPEG whose header says 60000 x 60000 px."""
    buffer = io.BytesIO()
    Image.new("RGB", (64, 64)).save(buffer, "JPEG")
    content = bytearray(buffer.getvalue())
    at = content.index(b"\xff\xc0")
    content[at + 5 : at + 9] = struct.pack(">HH", 60000, 60000)
    return bytes(content)


def _many_scans() -> bytes:
    """Make a progressive JPEG whose last scan comes three hundred times."""
    buffer = io.BytesIO()
    Image.effect_noise((256, 256), 60).save(buffer, "JPEG", progressive=True)
    content = buffer.getvalue()
    last = content.rindex(b"\xff\xda")
    return content[:-2] + content[last:-2] * 300 + b"\xff\xd9"


BOMBS: dict[str, Callable[[], bytes]] = {
    "PNG of 900 megapixels": _bomb,
    "JPEG of 3600 megapixels": _huge_jpeg,
    "JPEG of 300 scans": _many_scans,
    "GIF": lambda: b"GIF89a" + b"\0" * 100,
    "PDF": lambda: b"%PDF-1.7\n" + b"0" * 100,
    "ZIP": lambda: b"PK\x03\x04" + b"\0" * 100,
    "SVG with a script": lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "HTML": lambda: f"<html>{SCRIPT}</html>".encode(),
    "a video": lambda: b"\0\0\0\x18ftypmp42" + b"\0" * 100,
    "a JPEG cut short": lambda: FORK.read_bytes()[:100_000],
    "a broken EXIF block": lambda: (
        b"\xff\xd8\xff\xe1\x00\x10Exif\0\0MM\0*\xff\xff\xff\xff" + FORK.read_bytes()[2:50_000]
    ),
    "two bytes": lambda: b"\xff\xd8",
    "bytes at random": lambda: bytes(range(256)) * 64,
}


@pytest.mark.parametrize("kind", BOMBS)
def test_what_is_no_photo_is_refused_with_what_to_do(phone: Served, kind: str) -> None:
    begun = time.monotonic()
    answer = phone.send_photo(BOMBS[kind]())
    assert answer.status == 201
    page = phone.get(_page(answer))
    for _ in range(20):
        if "being read" not in page.text:
            break
        time.sleep(0.5)
        page = phone.get(_page(answer))
    assert time.monotonic() - begun < 30
    assert 'role="status"' in page.text and "Take it again" in page.text
    assert "Traceback" not in page.text and str(phone.garage.settings.folder) not in page.text
    assert SCRIPT not in page.text
    assert phone.get(_page(answer) + "/drawn.jpg").status == 404


def _page(answer: Answer) -> str:
    return str(json.loads(answer.body)["page"])


@pytest.fixture(scope="module")
def tight(tmp_path_factory: pytest.TempPathFactory) -> object:
    """Serve a garage with small limits."""
    folder = tmp_path_factory.mktemp("tight")
    filled(folder)
    limits = Limits(photo_bytes=200_000, piece_s=1.0, upload_s=3.0, waiting=3, kept=12)
    with served(folder, limits=limits) as found:
        yield found.pair()


def test_a_photo_of_too_many_bytes_is_refused(tight: Served) -> None:
    assert tight.send_photo(b"\xff\xd8" + b"0" * 300_000).status == 413
    assert not list(tight.garage.settings.folder.rglob("*.part"))


def test_a_photo_that_hides_its_length_is_refused(tight: Served) -> None:
    """In pieces (chunked), so that no header says how long it is."""
    connection = http.client.HTTPConnection("127.0.0.1", tight.port, timeout=20)
    body = multipart({"bike": BIKE, "leg": "front-left"}, b"0" * 2_000_000, "x.jpg")
    headers = {
        "Cookie": tight.cookie,
        "Origin": tight.address,
        "Content-Type": "multipart/form-data; boundary=XX",
    }
    status = 413
    try:
        pieces = (body[at : at + 65536] for at in range(0, len(body), 65536))
        connection.request("POST", "/photos", pieces, headers, encode_chunked=True)
        status = connection.getresponse().status
    except (BrokenPipeError, ConnectionResetError):
        pass  # cut off before it had sent all
    finally:
        connection.close()
    assert status == 413
    assert not list(tight.garage.settings.folder.rglob("*.part"))


@pytest.mark.parametrize("what", [b"--XX\r\n\r\n\r\n", b"\r\n"], ids=["empty parts", "before the first part"])
def test_a_form_that_is_no_photo_does_not_go_on_for_ever(tight: Served, what: bytes) -> None:
    """Nothing in it counts as a photo or a field, and no header says how long it is."""
    with socket.create_connection(("127.0.0.1", tight.port), 10) as raw:
        raw.sendall(_head_of_a_photo(tight).replace(b"Content-Length: 100000", b"Transfer-Encoding: chunked"))
        piece = what * (60_000 // len(what))
        sent, answer = 0, b""
        raw.settimeout(0.01)
        while not answer and sent < 2_000_000:
            try:
                raw.sendall(b"%x\r\n%b\r\n" % (len(piece), piece))
                sent += len(piece)
                answer = raw.recv(200)
            except TimeoutError:
                continue
            except OSError:
                break
    assert sent < 2_000_000
    assert answer == b"" or b"413" in answer


@pytest.mark.parametrize("path", ["/bikes/new", f"/bike/{BIKE}/ride", "/phones/forget"])
def test_a_form_of_too_many_bytes_is_refused(tight: Served, path: str) -> None:
    assert tight.post(path, {"name": "x" * 100_000}).status == 413


def test_a_form_of_too_many_fields_changes_nothing(tight: Served) -> None:
    body = "&".join(f"felt={n}" for n in range(5000)).encode()
    assert (
        tight.ask("POST", f"/bike/{BIKE}/ride", body, Content_Type="application/x-www-form-urlencoded").status
        == 303
    )
    assert tight.garage.rides.of(BIKE).felt == ()


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"no form", "text/plain", 415),
        (b"no form", "multipart/form-data", 415),
        (b"no form", "multipart/form-data; boundary=XX", 400),
        (
            b"--XX\r\nContent-Disposition: form-data; name=photo; filename=x\r\n\r\nabc",
            "multipart/form-data; boundary=XX",
            400,
        ),
        (
            multipart({"bike": BIKE, "leg": "front-left", "note": "y" * 9000}, b"x", "x"),
            "multipart/form-data; boundary=XX",
            413,
        ),
        (
            multipart({"bike": "none", "leg": "front-left"}, b"x", "x"),
            "multipart/form-data; boundary=XX",
            400,
        ),
        (multipart({"bike": BIKE, "leg": "wing"}, b"x", "x"), "multipart/form-data; boundary=XX", 400),
        (
            multipart({"bike": BIKE, "leg": "front-left", "state": "flying"}, b"x", "x"),
            "multipart/form-data; boundary=XX",
            400,
        ),
        (
            multipart({"bike": BIKE, "leg": "front-left"}, b"x", "x").replace(b"--XX--", b"") * 2,
            "multipart/form-data; boundary=XX",
            400,
        ),
        (multipart({"bike": BIKE, "leg": "front-left"}, b"", "x"), "multipart/form-data; boundary=XX", 400),
    ],
)
def test_a_wrong_form_is_refused(tight: Served, body: bytes, kind: str, status: int) -> None:
    photos = len(tight.garage.store)
    assert tight.ask("POST", "/photos", body, Content_Type=kind).status == status
    assert len(tight.garage.store) == photos
    assert not list(tight.garage.settings.folder.rglob("*.part"))


def _head_of_a_photo(garage: Served) -> bytes:
    lines = (
        "POST /photos HTTP/1.1",
        f"Host: 127.0.0.1:{garage.port}",
        f"Origin: {garage.address}",
        f"Cookie: {garage.cookie}",
        "Content-Type: multipart/form-data; boundary=XX",
        "Content-Length: 100000",
    )
    return "\r\n".join((*lines, "", "")).encode()


def test_a_slow_photo_is_cut_off(tight: Served) -> None:
    """A byte a little more often than the limit between two, so that the limit of the whole must end it."""
    with socket.create_connection(("127.0.0.1", tight.port), 10) as raw:
        raw.sendall(_head_of_a_photo(tight))
        raw.sendall(b'--XX\r\nContent-Disposition: form-data; name="photo"; filename="x"\r\n\r\n')
        begun = time.monotonic()
        answer = b""
        raw.settimeout(0.5)
        while not answer and time.monotonic() - begun < 10:
            try:
                raw.sendall(b"-")
                answer = raw.recv(200)
            except TimeoutError:
                continue
            except OSError:
                break
        assert time.monotonic() - begun < 6
        assert b"408" in answer


def test_a_silent_photo_is_cut_off(tight: Served) -> None:
    with socket.create_connection(("127.0.0.1", tight.port), 10) as raw:
        raw.sendall(_head_of_a_photo(tight))
        assert b"408" in raw.recv(200)


def test_a_request_whose_head_never_ends_is_cut_off(tight: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    with socket.create_connection(("127.0.0.1", tight.port), 10) as raw:
        raw.sendall(b"GET / HTTP/1.1\r\n")
        assert raw.recv(10) == b""


def test_an_endless_head_is_refused(tight: Served) -> None:
    with socket.create_connection(("127.0.0.1", tight.port), 10) as raw:
        answer = b""
        try:
            raw.sendall(b"GET / HTTP/1.1\r\n" + b"X-Long: " + b"y" * 200_000)
            answer = raw.recv(100)
        except OSError:
            pass
        assert answer == b"" or b"400" in answer


def test_many_connections_of_one_address_leave_room_for_others(shared_garage: Served, phone: Served) -> None:
    """Opened and left silent: those above the limit are closed, and the pages answer meanwhile."""
    held = [socket.create_connection(("127.0.0.1", phone.port), 5) for _ in range(30)]
    try:
        assert phone.get("/").status == 200
    finally:
        for one in held:
            one.close()


def test_too_many_connections_of_one_address_are_closed(tmp_path: Path) -> None:
    filled(tmp_path)
    with served(tmp_path) as garage:
        held = [
            socket.create_connection(("127.0.0.1", garage.port), 5)
            for _ in range(connections.MOST_OF_ONE_ADDRESS + 10)
        ]
        time.sleep(0.5)
        closed = 0
        for one in held:
            one.settimeout(0.05)
            try:
                closed += one.recv(1) == b""
            except TimeoutError:
                pass
            except OSError:
                closed += 1
            one.close()
        assert closed == 10


def test_photos_beyond_the_number_that_may_wait_are_put_off(tmp_path: Path) -> None:
    filled(tmp_path)
    with served(tmp_path, limits=Limits(waiting=2)) as garage:
        phone = garage.pair()
        content = FORK.read_bytes()
        with ThreadPoolExecutor(8) as pool:
            statuses = sorted(pool.map(lambda _: phone.send_photo(content).status, range(8)))
        assert 503 in statuses and 201 in statuses and set(statuses) == {201, 503}


def test_photos_beyond_the_number_that_is_kept_are_refused(tmp_path: Path) -> None:
    filled(tmp_path)
    with served(tmp_path, limits=Limits(kept=1)) as garage:
        phone = garage.pair()
        assert phone.send_photo(b"x").status == 201
        assert phone.send_photo(b"x").status == 507


def test_a_worker_that_dies_takes_one_photo_along_and_no_page(tmp_path: Path) -> None:
    """The worker is killed while it reads."""
    filled(tmp_path)
    with served(tmp_path) as garage:
        phone = garage.pair()
        phone.get("/")
        worker = garage.garage.workers._workers[0]
        until = time.monotonic() + PATIENCE_S
        while worker._process is None and time.monotonic() < until:
            time.sleep(0.05)
        answer = phone.send_photo(FORK.read_bytes())
        threading.Timer(0.05, lambda: worker._process and worker._process.kill()).start()
        page = phone.get(_page(answer))
        assert phone.get("/").status == 200
        for _ in range(60):
            if "being read" not in page.text:
                break
            time.sleep(0.5)
            page = phone.get(_page(answer))
        assert "Take it again" in page.text
        second = phone.send_photo(b"no photo")
        assert second.status == 201 and phone.get(_page(second)).status == 200


def test_a_fault_shows_no_trace(
    phone: Served, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    import strandline.garage.views.home as home

    def fails(*_: object) -> None:
        raise RuntimeError("secret words")

    monkeypatch.setattr(home, "listed_bikes", fails)
    answer = phone.get("/")
    assert answer.status == 500
    assert "secret words" not in answer.text and "Traceback" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]

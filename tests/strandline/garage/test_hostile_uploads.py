"""Files by the thousand that are made to break a garage, through its page: none is lost, none is stuck, no fault."""

from __future__ import annotations

import struct
import sys
from pathlib import Path

import pytest

from tests.helpers.garage_server import BIKE, Served, filled, served
from tests.helpers.hostile_uploads import attack, served_by_command, wait_until_read

# The server writes each upload to the disk as it comes; 15 MB were measured for twenty photos of 6 MB at once.
MOST_GROWTH_MB = 40
# A page on a machine that reads photos on every core, s.
SLOWEST_PAGE_S = 10


@pytest.mark.skipif(sys.platform == "win32", reason="the server is ended by a signal")
@pytest.mark.parametrize("count", [60, pytest.param(1_500, marks=pytest.mark.long)])
def test_hostile_uploads(tmp_path: Path, count: int) -> None:
    """Broken photos, other files, wrong names and forms, forms cut off; pages are asked for in between."""
    tally = attack(tmp_path, count, seed=21)
    assert not tally.wrong, tally.wrong[:5]
    assert sum(tally.answers.values()) - tally.answers["busy, sent again"] == count
    assert tally.outcomes["no photo"] > count / 10 and tally.outcomes["refused by reading"] > count / 50
    assert tally.outcomes["read"] >= 2  # the good ones, first and last
    assert tally.growth_mb < MOST_GROWTH_MB and tally.slowest_page_s < SLOWEST_PAGE_S


def test_who_hangs_up_or_sends_too_slowly_leaves_no_trace(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half of a form of text: hanging up is no fault of the program, and waiting is answered in words."""
    from dataclasses import replace

    from strandline.garage.server import forms
    from strandline.garage.settings import Limits

    monkeypatch.setattr(forms, "Limits", lambda: replace(Limits(), piece_s=0.3))
    filled(tmp_path)
    with served(tmp_path) as garage:
        phone = garage.pair()
        assert _half_a_form(phone, f"/bike/{BIKE}/ride", wait=False) == b""
        assert b" 408 " in _half_a_form(phone, f"/bike/{BIKE}/ride", wait=True)
        assert phone.get("/").status == 200
    assert "Traceback" not in capsys.readouterr().err


def _half_a_form(phone: Served, path: str, *, wait: bool) -> bytes:
    import socket

    head = (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{phone.port}\r\nOrigin: {phone.address}\r\n"
        f"Cookie: {phone.cookie}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 100\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", phone.port), 10) as raw:
        raw.sendall(head.encode() + b"route=Ridge")
        return raw.recv(200) if wait else b""


def test_warnings_of_libraries_stay_out_of_the_terminal(tmp_path: Path) -> None:
    """A field of EXIF that ends early, and a form with a wrong boundary, as thousands of broken files have them."""
    from tests.helpers.broken_files import SEEDS

    tiff = next(one for one in SEEDS if one.suffix == ".tif").read_bytes()
    with served_by_command(tmp_path) as (garage, _, said):
        sent = [
            garage.send_photo(tiff[:cut]) for cut in range(200, len(tiff), max((len(tiff) - 200) // 4, 1))
        ]
        # 152 samples a pixel, which Pillow logs as an error; found by 10,000 files.
        tag = tiff.index(b"\x15\x01\x03\x00") if tiff[:2] == b"II" else tiff.index(b"\x01\x15\x00\x03")
        samples = struct.pack("<H" if tiff[:2] == b"II" else ">H", 152)
        sent.append(garage.send_photo(tiff[: tag + 8] + samples + tiff[tag + 10 :]))
        kind = "multipart/form-data; boundary=YY"
        assert garage.ask("POST", "/photos", b"--XX\r\n", Content_Type=kind).status == 400
        wait_until_read(tmp_path / "garage" / "photos", len(sent))
    assert said.read_text() == ""

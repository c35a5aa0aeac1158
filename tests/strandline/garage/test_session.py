"""Pairing by a clock that the test sets."""

from __future__ import annotations

import re
from pathlib import Path

import cv2
import numpy as np
import pytest

from strandline.garage.serve import code_in_blocks
from strandline.garage.server.session import (
    CODE_S,
    MOST_PHONES,
    SESSION_S,
    TRIES,
    TRIES_S,
    PairingRefused,
    Sessions,
)


class Clock:
    def __init__(self) -> None:
        self.now = 1_000_000.0

    def __call__(self) -> float:
        return self.now


def opened(tmp_path: Path) -> tuple[Sessions, Clock]:
    clock = Clock()
    return Sessions(tmp_path / "phones.json", clock, clock), clock


def test_a_code_has_128_bits_and_is_never_the_same(tmp_path: Path) -> None:
    sessions, clock = opened(tmp_path)
    codes = set()
    for _ in range(100):
        codes.add(sessions.code())
        clock.now += CODE_S
    assert len(codes) == 100 and all(len(one) >= 22 for one in codes)  # 22 characters of base64 hold 132 bits


def test_a_code_that_is_too_old_pairs_nobody(tmp_path: Path) -> None:
    sessions, clock = opened(tmp_path)
    code = sessions.code()
    clock.now += CODE_S
    shown: list[str] = []
    sessions.on_new_code = lambda: shown.append(sessions.code())
    with pytest.raises(PairingRefused):
        sessions.pair(code, "Late", "198.51.100.1")
    assert len(shown) == 1 and shown[0] != code, "another code is shown to whoever scanned the old one"
    assert sessions.pair(shown[0], "Again", "198.51.100.1")


def test_a_phone_is_out_when_its_time_is_over(tmp_path: Path) -> None:
    sessions, clock = opened(tmp_path)
    cookie = sessions.pair(sessions.code(), "Ann", "198.51.100.1")
    clock.now += SESSION_S - 1
    assert sessions.visitor(cookie) is not None
    clock.now += 1
    assert sessions.visitor(cookie) is None and sessions.phones() == ()


def test_phones_stay_paired_when_the_program_starts_again(tmp_path: Path) -> None:
    sessions, clock = opened(tmp_path)
    cookie = sessions.pair(sessions.code(), "Ann", "198.51.100.1")
    again = Sessions(tmp_path / "phones.json", clock, clock)
    found = again.visitor(cookie)
    assert found is not None and found.name == "Ann"
    assert again.code() != sessions.code()  # a code that was shown before is worth nothing


def test_a_clock_that_goes_back_opens_nothing_for_longer(tmp_path: Path) -> None:
    wall, ticks = Clock(), Clock()
    sessions = Sessions(tmp_path / "phones.json", wall, ticks)
    cookie, code = sessions.pair(sessions.code(), "Ann", "198.51.100.1"), sessions.code()
    wall.now -= 5 * SESSION_S
    assert sessions.visitor(cookie) is not None  # and nobody is thrown out
    ticks.now += CODE_S
    assert sessions.code() != code  # the screen shows another
    with pytest.raises(PairingRefused):
        sessions.pair(code, "Late", "198.51.100.1")
    ticks.now += SESSION_S
    assert sessions.visitor(cookie) is None
    again = Sessions(tmp_path / "phones.json", wall, ticks)
    ticks.now += SESSION_S
    assert again.visitor(cookie) is None


@pytest.mark.parametrize("leap_s", [-SESSION_S, SESSION_S])
def test_a_clock_that_goes_back_or_on_locks_nobody_out_for_longer(tmp_path: Path, leap_s: float) -> None:
    wall, ticks = Clock(), Clock()
    sessions = Sessions(tmp_path / "phones.json", wall, ticks)
    wall.now += leap_s
    for _ in range(TRIES):
        with pytest.raises(PairingRefused):
            sessions.pair("guess", "x", "198.51.100.1")
    with pytest.raises(PairingRefused) as locked:
        sessions.pair(sessions.code(), "x", "198.51.100.1")
    assert locked.value.too_many
    wall.now -= leap_s
    ticks.now += TRIES_S + 1
    assert sessions.pair(sessions.code(), "Ann", "198.51.100.1")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[1]",
        '[{"key": 1}]',
        '{"a": 1}',
        '[{"key": "x"}]',
        "[" * 9_000,
        '[{"key": "x", "name": "A", "paired_at": 1, "expires_at": "soon"}]',
        '[{"key": "x", "name": "A", "paired_at": 1, "expires_at": NaN}]',
    ],
)
def test_a_damaged_file_of_phones_pairs_nobody(tmp_path: Path, text: str) -> None:
    (tmp_path / "phones.json").write_text(text)
    sessions, _ = opened(tmp_path)
    assert sessions.visitor("x") is None


def test_tries_are_counted_by_address_and_in_all(tmp_path: Path) -> None:
    sessions, clock = opened(tmp_path)

    def guess(address: str) -> bool:
        with pytest.raises(PairingRefused) as refused:
            sessions.pair("guess", "x", address)
        return refused.value.too_many

    assert [guess("198.51.100.1") for _ in range(TRIES + 1)] == [False] * TRIES + [True]
    assert not guess("198.51.100.2")  # another phone is not locked out by the first
    others = [guess(f"198.51.100.{n}") for n in range(3, 3 + 10 * TRIES)]
    assert others[-1], "guesses from many addresses are limited together"
    clock.now += TRIES_S + 1
    assert not guess("198.51.100.1")


def test_the_number_of_phones_is_limited(tmp_path: Path) -> None:
    sessions, _ = opened(tmp_path)
    for number in range(MOST_PHONES):
        sessions.pair(sessions.code(), f"Phone {number}", "198.51.100.1")
    with pytest.raises(PairingRefused):
        sessions.pair(sessions.code(), "One more", "198.51.100.1")


def test_a_code_that_is_no_text_of_ours_is_refused_and_not_an_error(tmp_path: Path) -> None:
    sessions, _ = opened(tmp_path)
    sessions.code()
    for code in ("", "é", "\0", "x" * 10_000):
        with pytest.raises(PairingRefused):
            sessions.pair(code, "x", f"198.51.100.{len(code) % 250}")


def test_the_code_on_the_terminal_is_scanned() -> None:
    """Its half blocks as pixels, read by OpenCV: dark on light, as phones want it."""
    link = "http://192.0.2.7:8427/pair/abcdefghijklmnopqrstuv"
    halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    for colours in (False, True):
        drawn = re.sub(r"\x1b\[[0-9;]*m", "", code_in_blocks(link, colours=colours))
        rows = [[halves[one][half] for one in line] for line in drawn.splitlines() for half in (0, 1)]
        pixels = np.kron(np.array(rows, np.uint8), np.ones((8, 8), np.uint8))
        found, _, _ = cv2.QRCodeDetector().detectAndDecode(np.pad(pixels, 40, constant_values=255))
        assert found == link

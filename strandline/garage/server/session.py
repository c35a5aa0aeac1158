"""Phones that may use the pages: pairing by a code that is shown once, then a cookie."""

from __future__ import annotations

import hashlib
import hmac
import json
import math
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path

from strandline.shared.files import make_folder, read_own, write_new

COOKIE = "strandline_garage"

# A code on the screen is good for so long, s: enough to walk to the bike, and a photo of the screen is soon worthless.
CODE_S = 600.0
# A phone stays paired for so long, s: a day's work.
SESSION_S = 12 * 3600.0
# So many wrong codes from one address within TRIES_S seconds are answered; then none of its codes is looked at until
# they have passed. From all addresses together ten times as many. 128 bits need no such limit; typing errors do not
# reach it.
TRIES = 5
TRIES_S = 600.0
# Characters of the name that a phone gives itself.
NAME_LENGTH = 40
# Phones paired at one time: a tech day has some twenty.
MOST_PHONES = 60


class PairingRefused(Exception):
    """A code that is wrong, used or too old, or too many of these."""

    def __init__(self, message: str, *, too_many: bool = False) -> None:
        super().__init__(message)
        self.too_many = too_many


@dataclass(frozen=True)
class Visitor:
    """Who asks for a page.

    Attributes
    ----------
    name : str
        As the phone was called when it was paired; empty for this machine's own browser.
    is_laptop : bool
        The request came from this machine itself.
    key : str
        Hash of the cookie; empty for this machine.
    """

    name: str
    is_laptop: bool
    key: str = ""


@dataclass(frozen=True)
class Phone:
    """A paired phone; of its cookie only the hash is kept.

    Attributes
    ----------
    key : str
        SHA-256 of the cookie, hexadecimal.
    name : str
    paired_at, expires_at : float
        Seconds since 1970.
    """

    key: str
    name: str
    paired_at: float
    expires_at: float


@dataclass
class Sessions:
    """The current code, and the phones that were paired; these outlive the program.

    Attributes
    ----------
    file : Path
        Keeps the phones.
    clock : function
        Seconds since 1970: for how long a phone stays paired when the program is started anew.
    ticks : function
        Seconds of a clock that nobody sets: while the program runs, a code and a pairing end by it as well, so that a
        clock that goes back opens nothing for longer, and locks nobody out for longer.
    on_new_code : function
        Called when another code takes the place of a used one.
    """

    file: Path
    clock: Callable[[], float] = time.time
    ticks: Callable[[], float] = time.monotonic
    on_new_code: Callable[[], None] = lambda: None
    _code: str = ""
    _code_until: float = 0.0
    _phones: dict[str, Phone] = field(default_factory=dict)
    _until: dict[str, float] = field(default_factory=dict)
    _wrong: dict[str, deque[float]] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def __post_init__(self) -> None:
        """Take up the phones that were paired before."""
        try:
            kept = json.loads(read_own(self.file))
            phones = [_phone(**one) for one in kept]
        except (OSError, ValueError, TypeError, RecursionError, OverflowError):
            phones = []
        self._phones = {one.key: one for one in phones}
        left = {one.key: min(one.expires_at - self.clock(), SESSION_S) for one in phones}
        self._until = {key: self.ticks() + left_s for key, left_s in left.items()}

    def code(self) -> str:
        """Give the code that pairs the next phone, a new one where the last is used or too old."""
        with self._lock:
            if not self._code or self.ticks() >= self._code_until:
                self._code = secrets.token_urlsafe(16)
                self._code_until = self.ticks() + CODE_S
            return self._code

    def pair(self, code: str, name: str, address: str) -> str:
        """Pair a phone.

        Parameters
        ----------
        code : str
            As the phone gives it.
        name : str
            What the phone is to be called.
        address : str
            Of the phone, for the limit of tries.

        Returns
        -------
        str
            The cookie's value, which is kept nowhere here.

        Raises
        ------
        PairingRefused
        """
        with self._lock:
            self._refuse_too_many(address)
            known = bool(self._code) and hmac.compare_digest(code.encode(), self._code.encode())
            good = known and self.ticks() < self._code_until
            if known:
                self._code = ""  # used, or too old: another takes its place on the screen
            if not good:
                self._wrong.setdefault(address, deque()).append(self.ticks())
            else:
                cookie = self._paired(name)
        if known:
            self.on_new_code()
        if not good:
            raise PairingRefused("This code was used already, or is too old.")
        return cookie

    def _paired(self, name: str) -> str:
        """Note a phone, and give its cookie."""
        self._drop_expired()
        if len(self._phones) >= MOST_PHONES:
            raise PairingRefused(f"{MOST_PHONES} phones are paired already.", too_many=True)
        cookie = secrets.token_urlsafe(32)
        now = self.clock()
        plain = " ".join(name.split())[:NAME_LENGTH]
        phone = Phone(_hash(cookie), plain or f"Phone {len(self._phones) + 1}", now, now + SESSION_S)
        self._phones[phone.key] = phone
        self._until[phone.key] = self.ticks() + SESSION_S
        self._save()
        return cookie

    def visitor(self, cookie: str) -> Visitor | None:
        """Find the phone of a cookie; None where there is none, or its time is over."""
        phone = self._phones.get(_hash(cookie))
        if phone is None or self._is_over(phone):
            return None
        return Visitor(phone.name, False, phone.key)

    def phones(self) -> tuple[Phone, ...]:
        """List the phones that are paired now."""
        with self._lock:
            return tuple(one for one in self._phones.values() if not self._is_over(one))

    def forget(self, key: str) -> None:
        """End a phone's pairing."""
        with self._lock:
            self._phones.pop(key, None)
            self._save()

    def _is_over(self, phone: Phone) -> bool:
        """Whether a phone's time is over by either clock."""
        return self.clock() >= phone.expires_at or self.ticks() >= self._until.get(phone.key, 0.0)

    def _refuse_too_many(self, address: str) -> None:
        since = self.ticks() - TRIES_S
        for key, times in list(self._wrong.items()):
            while times and times[0] < since:
                times.popleft()
            if not times:
                del self._wrong[key]
        every = sum(map(len, self._wrong.values()))
        if len(self._wrong.get(address, ())) >= TRIES or every >= 10 * TRIES:
            raise PairingRefused(
                f"Too many wrong codes. Wait {TRIES_S / 60:.0f} minutes, then scan the code again.",
                too_many=True,
            )

    def _drop_expired(self) -> None:
        self._phones = {one.key: one for one in self.phones()}

    def _save(self) -> None:
        make_folder(self.file.parent, private=True)
        text = json.dumps([asdict(one) for one in self._phones.values()])
        write_new(self.file, text.encode(), force=True)
        self.file.chmod(0o600)


def _phone(key: str, name: str, paired_at: float, expires_at: float) -> Phone:
    """Take up a phone from the file, whose fields may be of any kind.

    Raises
    ------
    TypeError, ValueError
    """
    phone = Phone(str(key), str(name), float(paired_at), float(expires_at))
    if not math.isfinite(phone.expires_at):
        raise ValueError("a time that does not end")
    return phone


def _hash(cookie: str) -> str:
    return hashlib.sha256(cookie.encode()).hexdigest()

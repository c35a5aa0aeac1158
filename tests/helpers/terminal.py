"""The command line in a pseudo-terminal of 80 columns, as a person sits before it."""

from __future__ import annotations

import os
import re
import select
import signal
import struct
import sys
import time
from pathlib import Path

import pytest

COLUMNS, ROWS = 80, 24
# Longest wait for a prompt or for the end, s: a cold start of Python with OpenCV on a busy machine takes some 10, and
# a day of 20 photos more than 60 where eight others compute.
PATIENCE_S = 240.0


class Terminal:
    """One command that runs in a pseudo-terminal; what it writes is gathered in `shown`."""

    def __init__(self, *words: str | Path, logbook: Path, **more: str) -> None:
        pty, fcntl, termios = (
            pytest.importorskip(one, reason="no pseudo-terminals here") for one in ("pty", "fcntl", "termios")
        )
        code = "import sys; from strandline.__main__ import main; sys.argv[0] = 'strandline'; main()"
        environment = {
            **{key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")},
            "STRANDLINE_LOGBOOK": str(logbook),
            "TERM": "xterm",
            **more,
        }
        self.shown = ""
        self.seen = 0
        self.code: int | None = None
        self.child, self.line = pty.fork()
        if self.child == 0:  # pragma: no cover - the other process
            signal.signal(signal.SIGINT, signal.SIG_DFL)  # ignored in what a shell runs in the background
            os.execve(sys.executable, [sys.executable, "-c", code, *map(str, words)], environment)
        fcntl.ioctl(self.line, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))

    def wait_for(self, words: str) -> str:
        """Read on until these words stand there, after those that were waited for before; what came until then."""
        until = time.monotonic() + PATIENCE_S
        while (found := self.shown.find(words, self.seen)) < 0:
            assert time.monotonic() < until, self.shown
            if not self._read():
                raise AssertionError(f"{words!r} never came:\n{self.shown}")
        start, self.seen = self.seen, found + len(words)
        return self.shown[start : self.seen]

    def type(self, text: str) -> None:
        """Type a line, with Enter."""
        os.write(self.line, f"{text}\n".encode())

    def interrupt(self) -> None:
        """Press Ctrl-C; not in the instant between a prompt's being written and its answer's being read."""
        time.sleep(0.5)
        os.write(self.line, b"\x03")

    def end(self) -> str:
        """Read on until the command ends; all that it showed."""
        until = time.monotonic() + PATIENCE_S
        while self._read():
            if time.monotonic() > until:
                os.kill(self.child, signal.SIGKILL)
                raise AssertionError(self.shown)
        _, status = os.waitpid(self.child, 0)
        self.code = os.waitstatus_to_exitcode(status)
        os.close(self.line)
        return self.shown

    def _read(self) -> bool:
        ready, _, _ = select.select([self.line], [], [], 1.0)
        if not ready:
            return True
        try:
            found = os.read(self.line, 65536)
        except OSError:  # Linux says so where the other side has closed
            return False
        self.shown += found.decode("utf-8", "replace").replace("\r\n", "\n")
        return bool(found)


def screen_faults(shown: str) -> list[str]:
    """Find lines that do not fit 80 columns, a path counted as short, and Python's own messages."""
    lines = re.sub(r"\x1b\[[0-9;]*m", "", shown).split("\n")
    wide = [line for line in lines if len(re.sub(r"\S*/\S+/\S*", "PATH", line)) > COLUMNS]
    return wide + [line for line in lines if "Traceback" in line or 'File "' in line]

"""Which cautions were said today, in a small file beside the logbook, so that each is said once a day."""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Collection
from pathlib import Path

from ridelog.regular_file import read_regular
from strandline.shared.parse import EARLIEST_CLOCK
from suspension.advice.cautions import Caution

ENDING = ".cautions.json"
# A day and the names of all cautions are a few hundred bytes.
_LARGEST_BYTES = 10_000
# A warning that something may be broken, or overloaded, is no routine.
ALWAYS = frozenset({Caution.STOP_RIDING, Caution.LOAD})


class SaidToday:
    """The cautions that were said today for one logbook.

    Parameters
    ----------
    logbook : Path
        The logbook's file; the list lies beside it. Where it cannot be written, cautions are said every time.
    today : datetime.date
        By this machine's clock. On the day of one that was never set nothing counts as said: that day comes again
        with every start.
    """

    def __init__(self, logbook: Path, today: dt.date) -> None:
        self._path = logbook.with_name(logbook.name + ENDING)
        self._today = today.isoformat()
        self._never_set = today < EARLIEST_CLOCK
        self._names = self._read()

    def includes(self, caution: Caution) -> bool:
        """Whether a caution was said today, and need not be said again."""
        return caution not in ALWAYS and caution.name in self._names

    def note(self, cautions: Collection[Caution]) -> None:
        """Note down that these are said now; without a word where nothing can be written."""
        names = self._names | {one.name for one in cautions}
        if names == self._names:
            return
        text = json.dumps({"date": self._today, "said": sorted(names)}) + "\n"
        follow_no_link = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
        try:
            handle = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | follow_no_link, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
        except OSError:
            return

    def _read(self) -> frozenset[str]:
        try:
            found = json.loads(read_regular(self._path, _LARGEST_BYTES))
        except (OSError, ValueError, RecursionError):
            return frozenset()
        if not isinstance(found, dict) or found.get("date") != self._today or self._never_set:
            return frozenset()
        said = found.get("said")
        return (
            frozenset(one for one in said if isinstance(one, str)) if isinstance(said, list) else frozenset()
        )

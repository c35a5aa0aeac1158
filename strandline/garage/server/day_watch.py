"""A tech day beside the pages: its folder is watched as ``strandline day --watch`` does, and its page grows."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from strandline.shared.files import read_own
from suspension.quantities.lengths import Units

if TYPE_CHECKING:
    from strandline.day.identify.roster import Roster

# Where phones' photos go in the day's folder.
PHOTOS = "photos"


@dataclass(frozen=True)
class DayNow:
    """How far a day is.

    Attributes
    ----------
    photos, read, exceptions : int
    """

    photos: int = 0
    read: int = 0
    exceptions: int = 0


class DayWatch:
    """Reads a day's photos as they arrive, in a thread and with worker processes of its own.

    Parameters
    ----------
    folder : Path
        With a roster.
    units : Units
    """

    def __init__(self, folder: Path, units: Units) -> None:
        self.folder = folder
        self.units = units
        self.now = DayNow()
        self.trouble = ""
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def photos(self) -> Path:
        """Folder of the phones' photos."""
        return self.folder / PHOTOS

    def roster(self) -> Roster:
        """Read the roster as it is now.

        Raises
        ------
        DayError
        """
        from strandline.day.pipeline import DayRequest

        return DayRequest(self.folder).read_roster()

    def page(self) -> str | None:
        """Give the day's page, its style and script as files instead of in the page; None before there is one."""
        from strandline.day.output.page import without_inline
        from strandline.day.output.write_all import PAGE
        from strandline.day.pipeline import RESULTS

        try:
            text = read_own(self.folder / RESULTS / PAGE)
        except (OSError, ValueError):
            return None
        text = without_inline(text, "/static/day.css", "/static/day.js")
        return text.replace("<header>", '<header><p><a href="/day">Back to the roster</a></p>', 1)

    def start(self) -> None:
        """Begin to watch."""
        self._thread = threading.Thread(target=self._watch, daemon=True, name="day")
        self._thread.start()

    def close(self) -> None:
        """Stop watching, and wait until the page was written a last time."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(30.0)

    def _wait(self, seconds: float) -> None:
        self._stop.wait(seconds)

    def _watch(self) -> None:
        from strandline.day.errors import DayError
        from strandline.day.pipeline import DayRequest, watch_day
        from strandline.day.results.results import DayResults

        def note(results: DayResults) -> None:
            self.now = DayNow(results.photos, results.read, len(results.exceptions))
            self.trouble = ""

        def warn(text: str) -> None:
            self.trouble = text

        try:
            watch_day(
                DayRequest(self.folder, workers=1, units=self.units),
                lambda done, total: None,
                note,
                warn,
                go_on=lambda: not self._stop.is_set(),
                wait=self._wait,
            )
        except DayError as error:
            self.trouble = str(error)

"""When a card serves an entrant: a part of the day, so that more bikes can come than there are cards."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class Window:
    """When a card serves an entrant: from the first time to before the last; None is open."""

    date: dt.date | None = None
    start: dt.time | None = None
    stop: dt.time | None = None

    @property
    def is_open(self) -> bool:
        """No limit at all."""
        return self.start is None and self.stop is None

    def holds(self, when: dt.datetime) -> bool:
        """Whether a time lies in it."""
        if self.date is not None and when.date() != self.date:
            return False
        return (self.start is None or when.time() >= self.start) and (
            self.stop is None or when.time() < self.stop
        )

    def meets(self, other: Window) -> bool:
        """Whether two windows share a time."""
        if self.date is not None and other.date is not None and self.date != other.date:
            return False
        begin = max(one.start or dt.time.min for one in (self, other))
        ends = [one.stop for one in (self, other) if one.stop is not None]
        return not ends or begin < min(ends)

    def __str__(self) -> str:
        day = "" if self.date is None else f"{self.date.isoformat()} "
        ends = (f"{one:%H:%M}" if one is not None else "" for one in (self.start, self.stop))
        return day + "–".join(ends)


def window(first: str, last: str) -> Window:
    """Parse a window from its two ends in the roster.

    Parameters
    ----------
    first, last : str
        14:30, or 2026-05-08 14:30; empty where it is open.

    Raises
    ------
    ValueError
        Saying what is wrong with it.
    """
    start_day, start = _moment(first)
    stop_day, stop = _moment(last)
    days = {day for day, text in ((start_day, first), (stop_day, last)) if text}
    if len(days) > 1:
        raise ValueError("from and to must be on one day, both with the date or both without")
    if start is not None and stop is not None and start >= stop:
        raise ValueError(f"“from” {first} is not before “to” {last}")
    return Window(days.pop() if days else None, start, stop)


def _moment(text: str) -> tuple[dt.date | None, dt.time | None]:
    """Parse a time such as 14:30, or with a date 2026-05-08 14:30."""
    if not text:
        return None, None
    try:
        if len(text) <= len("14:30:00"):
            return None, dt.time.fromisoformat(text.zfill(5) if len(text) < 6 else text.zfill(8))
        moment = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise ValueError(f"“{text}” is not a time: write 14:30, or 2026-05-08 14:30") from error
    return moment.date(), moment.time()

"""On which day photos were taken, by cameras' clocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from strandline.shared.parse import EARLIEST_CLOCK

# Clocks that nobody set begin in 1970, 1980 or 2000; phones that could read this card came later [common practice, no
# source].
_FIRST_YEAR = 2007


def latest_day(times: Iterable[dt.datetime | None]) -> dt.date | None:
    """Give the latest day of some times; None where none can be right.

    Parameters
    ----------
    times : iterable of datetime or None
        When each photo was taken, on the camera's clock; None of a photo that does not say.
    """
    return max(_possible(times), default=None)


def earliest_day(times: Iterable[dt.datetime | None]) -> dt.date | None:
    """Give the earliest day of some times; None where none can be right."""
    return min(_possible(times), default=None)


def _possible(times: Iterable[dt.datetime | None]) -> list[dt.date]:
    days = [one.date() for one in times if one is not None]
    # A day more than today's: the camera's clock may be set to another time zone. A clock of this machine that was
    # never set limits nothing.
    now = dt.date.today()
    latest = dt.date.max if now < EARLIEST_CLOCK else now + dt.timedelta(days=1)
    return [day for day in days if day.year >= _FIRST_YEAR and day <= latest]

"""On which day photos were taken, by cameras' clocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

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
    days = [one.date() for one in times if one is not None]
    # A day more than today's: the camera's clock may be set to another time zone.
    latest = dt.date.today() + dt.timedelta(days=1)
    return max((day for day in days if day.year >= _FIRST_YEAR and day <= latest), default=None)

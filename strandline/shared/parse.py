"""Parse what several commands take: a day, and NAME=VALUE."""

from __future__ import annotations

import datetime as dt

from ridelog.errors import AmountError, RecordError
from suspension.quantities.grammar import quote

# The program did not exist before: an earlier clock was never set, or has lost its battery.
EARLIEST_CLOCK = dt.date(2026, 1, 1)


def today() -> dt.date:
    """Give today's date by this machine's clock.

    Raises
    ------
    RecordError
        The clock was never set.
    """
    found = dt.date.today()
    if found < EARLIEST_CLOCK:
        raise RecordError(
            f"The clock of this machine says {found}, which cannot be.",
            "Set it, or give the date with --date.",
        )
    return found


def day_or_none() -> dt.date | None:
    """Give today's date for something that is printed; None where this machine's clock was never set."""
    found = dt.date.today()
    return None if found < EARLIEST_CLOCK else found


def parse_day(text: str) -> dt.date:
    """Read a date; tomorrow's is the latest, for clocks differ, and a clock that was never set limits nothing.

    Raises
    ------
    AmountError
    """
    try:
        found = dt.date.fromisoformat(text.strip())
    except ValueError:
        raise AmountError(
            f"{quote(text)} is not a date (use 2026-11-09).", "Write year, month and day."
        ) from None
    now = dt.date.today()
    if now >= EARLIEST_CLOCK and found > now + dt.timedelta(days=1):
        raise AmountError(
            f"{found} is in the future: the clock of this machine says {now}.",
            "Give the day of the ride or of the measurement, or set the clock.",
        )
    return found


def name_and_value(text: str, option: str, example: str) -> tuple[str, str]:
    """Split NAME=VALUE; neither may be empty.

    Raises
    ------
    AmountError
        Naming the option, with the example.
    """
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise AmountError(
            f"{option} {quote(text)} is not NAME=VALUE.", f"Write, for example, {option} {example}."
        )
    return key.strip(), value.strip()

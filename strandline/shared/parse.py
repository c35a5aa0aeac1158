"""Parse what several commands take: a day, and NAME=VALUE."""

from __future__ import annotations

import datetime as dt

from ridelog.errors import RecordError
from suspension.quantities.grammar import quote


def parse_day(text: str) -> dt.date:
    """Read a date; tomorrow's is the latest, for clocks differ.

    Raises
    ------
    RecordError
    """
    try:
        found = dt.date.fromisoformat(text.strip())
    except ValueError:
        raise RecordError(
            f"{quote(text)} is not a date (use 2026-11-09).", "Write year, month and day."
        ) from None
    if found > dt.date.today() + dt.timedelta(days=1):
        raise RecordError(f"{found} is in the future.", "Give the day of the ride or of the measurement.")
    return found


def name_and_value(text: str, option: str, example: str) -> tuple[str, str]:
    """Split NAME=VALUE; neither may be empty.

    Raises
    ------
    RecordError
        Naming the option, with the example.
    """
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise RecordError(
            f"{option} {quote(text)} is not NAME=VALUE.", f"Write, for example, {option} {example}."
        )
    return key.strip(), value.strip()

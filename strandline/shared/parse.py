"""Parse what several commands take: a day, and NAME=VALUE."""

from __future__ import annotations

import datetime as dt

from ridelog.errors import AmountError
from suspension.quantities.grammar import quote


def parse_day(text: str) -> dt.date:
    """Read a date; tomorrow's is the latest, for clocks differ.

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
    if found > dt.date.today() + dt.timedelta(days=1):
        raise AmountError(f"{found} is in the future.", "Give the day of the ride or of the measurement.")
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

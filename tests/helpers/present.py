"""For tests: what must be there before it is compared."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def present(value: T | None) -> T:
    """Return a value that must not be None."""
    assert value is not None
    return value

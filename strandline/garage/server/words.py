"""Words and numbers of the pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ridelog.names import LegName
from suspension.quantities.quantity import Bound, Quantity

_SIGNS = {Bound.AT_LEAST: "≥ ", Bound.AT_MOST: "≤ ", Bound.EXACT: ""}


def leg_words(leg: LegName) -> str:
    """Give a leg's name as it is said: "front left"."""
    return leg.value.replace("-", " ")


def mm(one: Quantity | None) -> str:
    """Write a length with its 95 % uncertainty; a dash where it is not known."""
    return "–" if one is None else f"{_SIGNS[one.bound]}{one.value:.1f} ± {one.u95:.1f} mm"


FILTERS: dict[str, Callable[..., Any]] = {"leg_words": leg_words, "mm": mm}

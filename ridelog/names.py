"""The words that bikes, rides and files share: ends, legs, adjusters, how counts are counted, how it felt."""

from __future__ import annotations

from enum import StrEnum

from suspension.advice.situation import Felt
from suspension.sag.windows import End, Use
from suspension.springs.adjuster import AdjusterKind, Confidence, CountedFrom

__all__ = (
    "AdjusterKind",
    "Basis",
    "Confidence",
    "CountedFrom",
    "End",
    "Felt",
    "LegName",
    "Use",
)


class LegName(StrEnum):
    """A fork leg or a shock by its place; left and right as the rider sits. One shock in the middle is "rear"."""

    FRONT = "front"
    FRONT_LEFT = "front-left"
    FRONT_RIGHT = "front-right"
    REAR = "rear"
    REAR_LEFT = "rear-left"
    REAR_RIGHT = "rear-right"

    @property
    def end(self) -> End:
        """The end that it carries."""
        return End(self.value.split("-")[0])


class Basis(StrEnum):
    """What a value rests on."""

    MEASURED = "measured"
    MANUAL = "manual"
    ESTIMATED = "estimated"
    DEFAULT = "default"

"""The words that bikes, rides and files share: ends, legs, adjusters, how counts are counted, how it felt."""

from __future__ import annotations

from enum import StrEnum


class End(StrEnum):
    """Front or rear."""

    FRONT = "front"
    REAR = "rear"


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


class AdjusterKind(StrEnum):
    """What is counted."""

    TURNS = "turns"
    CLICKS = "clicks"
    POSITIONS = "positions"

    @property
    def first(self) -> int:
        """The count at the end that counting starts from: ramps are numbered from 1, the others start at 0."""
        return 1 if self is AdjusterKind.POSITIONS else 0

    @property
    def one(self) -> str:
        """One of them."""
        return self.value.removesuffix("s")


class CountedFrom(StrEnum):
    """The end that a count starts from; preload up from the soft end, damping out from fully closed."""

    SOFT = "soft"
    HARD = "hard"


class Confidence(StrEnum):
    """How sure a count is."""

    COUNTED = "counted"
    IN_DOUBT = "in-doubt"
    UNKNOWN = "unknown"


class Felt(StrEnum):
    """What the rider reports."""

    HARSH = "harsh"
    BOTTOMED = "bottomed"
    WALLOWS = "wallows"
    DIVES = "dives"


class Basis(StrEnum):
    """What a value rests on."""

    MEASURED = "measured"
    MANUAL = "manual"
    ESTIMATED = "estimated"
    DEFAULT = "default"


class Use(StrEnum):
    """What the bike is for; it chooses the windows of sag."""

    STREET = "street"
    SPORT = "sport"
    OFF_ROAD = "off-road"

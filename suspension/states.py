"""How the bike stood when its shaft was measured."""

from __future__ import annotations

from enum import StrEnum


class State(StrEnum):
    """What compressed the leg at the time of the reading.

    A side stand is none of these: lean and one-sided load make it no state to take sag in.
    """

    HANGING = "hanging"
    ON_WHEELS = "on-wheels"
    RIDER_ABOARD = "rider-aboard"
    UNKNOWN = "unknown"

    @property
    def is_loaded(self) -> bool:
        """Known to be compressed by a load."""
        return self in (State.ON_WHEELS, State.RIDER_ABOARD)

"""What a shaft belongs to, and so what its far end is and which way a loose marker slides."""

from __future__ import annotations

from enum import StrEnum


class Layout(StrEnum):
    """Architecture of a leg."""

    FORK = "fork"
    UPSIDE_DOWN_FORK = "upside-down-fork"
    SHOCK = "shock"

    @property
    def far_end(self) -> str:
        """The part that ends the exposed length, as the trade calls it."""
        return {"fork": "lower clamp", "upside-down-fork": "axle foot", "shock": "bumper"}[self.value]

    @property
    def has_visible_bumper(self) -> bool:
        """Whether the far end is a rubber bumper's free face; a fork's own stop is inside and not seen."""
        return self is Layout.SHOCK

    @property
    def slip(self) -> str:
        """What a loose marker that slid down does to the reading."""
        return {
            "fork": "a loose one slides down the tube towards the seal and reads low",
            "upside-down-fork": "a loose one slides down the tube towards the axle and reads high",
            "shock": "a loose one slides down, high or low as the shaft points",
        }[self.value]

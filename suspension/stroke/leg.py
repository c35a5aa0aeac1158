"""One leg: what is known of it apart from any reading."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError
from suspension.quantities.quantity import Quantity


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


class State(StrEnum):
    """What compressed the leg at the time of the reading.

    A side stand is not among these: it leans the bike and loads one side, so sag cannot be measured on it.
    """

    HANGING = "hanging"
    ON_WHEELS = "on-wheels"
    RIDER_ABOARD = "rider-aboard"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Leg:
    """A fork leg or a shock; what is not known stays None and costs the answers that need it.

    Attributes
    ----------
    layout : Layout
    extended_mm : Quantity or None
        Exposed length with the wheel hanging free, E0, mm; for a shock, to the bumper's free face.
    stroke_mm : Quantity or None
        Stroke to the hard stop, S, mm.
    bumper_free_mm, bumper_crushed_mm : Quantity or None
        A shock's bumper, free b and crushed bs, mm.

    Raises
    ------
    SuspensionError
        A length that is not positive, a bumper on a fork, or one that is longer crushed than free.
    """

    layout: Layout
    extended_mm: Quantity | None = None
    stroke_mm: Quantity | None = None
    bumper_free_mm: Quantity | None = None
    bumper_crushed_mm: Quantity | None = None

    def __post_init__(self) -> None:
        bumper = (("free bumper", self.bumper_free_mm), ("crushed bumper", self.bumper_crushed_mm))
        for name, length in (("extended length", self.extended_mm), ("stroke", self.stroke_mm), *bumper):
            if length is not None and length.value <= 0:
                raise SuspensionError(
                    f"The {name} is {length.value:.1f} mm; it must be more than zero.",
                    "Leave out what is not known.",
                )
        if not self.layout.has_visible_bumper and any(length is not None for _, length in bumper):
            raise SuspensionError(
                "A bumper is given for a fork, whose stop is inside and not seen.",
                "Give its stroke instead.",
            )
        if (
            self.bumper_free_mm is not None
            and self.bumper_crushed_mm is not None
            and self.bumper_crushed_mm.value > self.bumper_free_mm.value
        ):
            raise SuspensionError(
                "The bumper is given longer crushed than free.",
                "Give its free length first; crushed is 0.3 to 0.5 of it.",
            )

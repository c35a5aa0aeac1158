"""One leg: what is known of it apart from any reading."""

from __future__ import annotations

from dataclasses import dataclass

from suspension.errors import SuspensionError
from suspension.layouts import Layout
from suspension.measured import MeasuredLength


@dataclass(frozen=True)
class Leg:
    """A fork leg or a shock; what is not known stays None and costs the answers that need it.

    Attributes
    ----------
    layout : Layout
    extended : MeasuredLength or None
        Exposed length with the wheel hanging free, E0, mm; for a shock, to the bumper's free face.
    stroke : MeasuredLength or None
        Stroke to the hard stop, S, mm.
    bumper_free, bumper_crushed : MeasuredLength or None
        A shock's bumper, free b and crushed bs, mm.

    Raises
    ------
    SuspensionError
        A length that is not positive, a bumper on a fork, or one that is longer crushed than free.
    """

    layout: Layout
    extended: MeasuredLength | None = None
    stroke: MeasuredLength | None = None
    bumper_free: MeasuredLength | None = None
    bumper_crushed: MeasuredLength | None = None

    def __post_init__(self) -> None:
        bumper = (("free bumper", self.bumper_free), ("crushed bumper", self.bumper_crushed))
        for name, length in (("extended length", self.extended), ("stroke", self.stroke), *bumper):
            if length is not None and length.value_mm <= 0:
                raise SuspensionError(
                    f"The {name} is {length.value_mm:.1f} mm; it must be more than zero.",
                    "Leave out what is not known.",
                )
        if not self.layout.has_visible_bumper and any(length is not None for _, length in bumper):
            raise SuspensionError(
                "A bumper is given for a fork, whose stop is inside and not seen.",
                "Give its stroke S instead.",
            )
        if (
            self.bumper_free is not None
            and self.bumper_crushed is not None
            and self.bumper_crushed.value_mm > self.bumper_free.value_mm
        ):
            raise SuspensionError(
                "The bumper is given longer crushed than free.",
                "Give its free length first; crushed is 0.3 to 0.5 of it.",
            )

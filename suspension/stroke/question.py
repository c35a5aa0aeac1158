"""All that bears on one leg's used stroke, as one value."""

from __future__ import annotations

from dataclasses import dataclass, field

from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Leg, State
from suspension.stroke.marker import Marker
from suspension.stroke.shaft_lengths import ShaftLengths


@dataclass(frozen=True)
class StrokeQuestion:
    """All that bears on one leg's used stroke.

    Attributes
    ----------
    lengths : ShaftLengths
    leg : Leg
    marker : Marker
    state : State
        How the bike stood at the reading.
    at_stop : bool or None
        The photo shows the marker touching or inside the far end. The gap rule, max(1 mm, 2 u_c), is applied
        besides.
    reset_compression_mm : Quantity or None
        Compression when the marker was last slid to the seal, mm; None where not known.
    shared_scale_sd : float
        Relative standard uncertainty of a scale that E0 shares with the lengths (same card, same caliper); it
        must already be part of both. 0 where E0 comes from another instrument.
    """

    lengths: ShaftLengths
    leg: Leg
    marker: Marker = field(default_factory=Marker)
    state: State = State.UNKNOWN
    at_stop: bool | None = None
    reset_compression_mm: Quantity | None = None
    shared_scale_sd: float = 0.0

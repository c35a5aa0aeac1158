"""What a ride showed, how the end is set, and what may be done next: the values that the rules go by."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from suspension.advice.prior import USUAL_EFFECT
from suspension.loads.limits import LoadVerdict
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.windows import End, Judgement
from suspension.springs.adjuster import Adjuster, Count
from suspension.stroke.verdict import BandLimits

# Ride-to-ride scatter of the deepest point, mm: the middle of 3 to 6 [common practice, no source].
RIDE_SD_MM = 4.5
# After so many runs in the window there is nothing left to do [common practice, no source].
RUNS_TO_STOP = 2


class Felt(StrEnum):
    """What the rider reports."""

    HARSH = "harsh"
    BOTTOMED = "bottomed"
    WALLOWS = "wallows"
    DIVES = "dives"


class Action(StrEnum):
    """What to do next."""

    NONE = "no change"
    MORE = "more preload"
    LESS = "less preload"
    READ_AGAIN = "read again"
    REDUCE_LOAD = "reduce the load"
    REVIEW = "have spring and oil level reviewed"


@dataclass(frozen=True)
class RideFacts:
    """What one ride showed at one end.

    Attributes
    ----------
    used_mm : Quantity or None
        u of the deeper leg; None where the reading is invalid (marker missing or slipped).
    bumper_met_mm, hard_stop_mm : float or None
        Sb and S.
    marker_width_mm : float or None
        w.
    felt : frozenset of Felt
    at_far_end : bool
        The marker is at the bumper or clamp, which counts also where E0, and so u, is not known.
    legs_differ : bool
        The legs differ by more than their uncertainty: binding, or a slipped marker.
    earlier_in_window : int
        Runs before this one, at this setting and load, that were in the window.
    """

    used_mm: Quantity | None
    bumper_met_mm: float | None = None
    hard_stop_mm: float | None = None
    marker_width_mm: float | None = None
    felt: frozenset[Felt] = frozenset()
    at_far_end: bool = False
    legs_differ: bool = False
    earlier_in_window: int = 0

    @property
    def is_right_censored(self) -> bool:
        """The deepest point is known only as "at least"."""
        return self.at_far_end or (self.used_mm is not None and self.used_mm.bound is Bound.AT_LEAST)


@dataclass(frozen=True)
class Setup:
    """How the end is set, and what bears on changing it.

    Attributes
    ----------
    end : End
    adjuster : Adjuster
    count : Count
    effect : Quantity
        B, mm of stroke for a mm of preload: the prior's, or `Prediction.per_preload`.
    rider_sag : Judgement
    sag_room_mm : tuple of two floats, or None
        `sag.sag_room_mm`: stroke to the sag window's lower and upper edge; None where not known.
    load : LoadVerdict
    ride_sd_mm : float
    limits : BandLimits
    """

    end: End
    adjuster: Adjuster
    count: Count
    effect: Quantity = USUAL_EFFECT
    rider_sag: Judgement = Judgement.UNKNOWN
    sag_room_mm: tuple[float, float] | None = None
    load: LoadVerdict = LoadVerdict.NOT_CHECKED
    ride_sd_mm: float = RIDE_SD_MM
    limits: BandLimits = field(default_factory=BandLimits)


def step_mm(setup: Setup, steps: int) -> float | None:
    """Preload that so many steps add, mm (negative: take away); None where the mm per step are not known."""
    adjuster = setup.adjuster
    if not adjuster.positions_mm:
        return None if adjuster.step_mm is None else steps * adjuster.step_mm
    now = adjuster.from_soft(setup.count)
    if now is None or adjuster.clipped(now + steps) != now + steps:
        return None
    after, before = adjuster.added_mm(now + steps), adjuster.added_mm(now)
    return None if after is None or before is None else after - before

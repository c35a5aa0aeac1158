"""What bears on the next step at one end of a bike, for one load: rides, counts with their sag and risk, and limits."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from suspension.loads.limits import LoadVerdict
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.windows import End, Judgement, Window, judge_sag
from suspension.springs.adjuster import AdjusterKind
from suspension.stroke.stops import VAGUE_MM
from suspension.stroke.verdict import Band, BandLimits, Verdict, judge_used

# A reading whose own expanded uncertainty is over this share of S, or over `VAGUE_MM`, is read again
# [common practice, no source].
VAGUE_SHARE = 0.10


class Felt(StrEnum):
    """What the rider reports."""

    HARSH = "harsh"
    BOTTOMED = "bottomed"
    WALLOWS = "wallows"
    DIVES = "dives"


class Flaw(StrEnum):
    """Why a reading is no run."""

    MISSING = "no marker on the shaft, or no reading"
    UNMOVED = "the marker has not moved since it was set"
    SLIPPED = "the marker shows less than the rider aboard compresses"
    BEYOND = "the reading contradicts the lengths in the bike's file"
    VAGUE = "the reading's own uncertainty is too large"


@dataclass(frozen=True)
class RideSeen:
    """One ride of this load at this end, comparable with today's settings but for the preload count.

    Attributes
    ----------
    route : str
        Case and spaces folded.
    count : float or None
        Preload count up from the soft end; None where nobody counted.
    used_mm : Quantity or None
        u of the deeper leg; `AT_LEAST` where the marker is at the bumper or clamp.
    felt : frozenset of Felt
        At this end.
    legs_differ : bool
        The legs differ by more than their uncertainty.
    flaw : Flaw or None
        Why the reading does not count.
    at_far_end : bool
        The marker is at the bumper or clamp, which counts also where the used stroke is not known.
    """

    route: str
    count: float | None
    used_mm: Quantity | None
    felt: frozenset[Felt] = frozenset()
    legs_differ: bool = False
    flaw: Flaw | None = None
    at_far_end: bool = False

    @property
    def at_stop(self) -> bool:
        """The marker is at the bumper or clamp: known only as "at least"."""
        limited = self.used_mm is not None and self.used_mm.bound is Bound.AT_LEAST
        return self.flaw is None and (self.at_far_end or limited)

    def is_at_or_above(self, count: float | None) -> bool:
        """Whether it was ridden at a count or a firmer one; where a count is not known, it may have been."""
        return self.count is None or count is None or self.count >= count


@dataclass(frozen=True)
class DampingStep:
    """One step of a damping adjuster against something that was felt.

    Attributes
    ----------
    felt : Felt
    words : str
        Such as "compression damping: one click softer, from 8 to 9 out".
    """

    felt: Felt
    words: str


@dataclass(frozen=True)
class AtCount:
    """What is to be expected at one preload count.

    Attributes
    ----------
    count : float
        Up from the soft end.
    rider_sag_percent : Quantity or None
        Carried by reckoning from the count at which it was measured, percent of wheel travel.
    chance : float or None
        That the next ride over the worst route of this load reaches the bumper; None where nothing is known.
    """

    count: float
    rider_sag_percent: Quantity | None = None
    chance: float | None = None


@dataclass(frozen=True)
class Situation:
    """All that the rules of the next step look at.

    Attributes
    ----------
    end : End
    kind : AdjusterKind
    now : float or None
        Today's count up from the soft end; None where nobody knows it.
    now_in_doubt : bool
        It has to be counted again before it is built on.
    counts : tuple of AtCount
        Every count in the adjuster's range, from the soft end; as far as a prediction may go where the hard end is
        not known.
    hard_end_known : bool
    stroke_mm, bumper_mm : float or None
        S and Sb.
    rides : tuple of RideSeen
        Oldest first; flawed ones included.
    worst_route : str
        The route that hits this end hardest.
    sag_window : Window or None
        For rider sag.
    sag_measured : bool
        Rider sag of this load was measured, at this or another count; else it is worked out from the statics.
    start : float or None
        Count to begin with where this load was not ridden yet: from its sag, or from the statics.
    start_why : str
        What that count rests on, in a sentence.
    load : LoadVerdict
    events : tuple of str
        What must be looked at before the next ride: a leak, a knock, a crack.
    tyres : str or None
        What is wrong with the tyre pressures, if anything.
    spring : str or None
        The spring that would do, in words, where the range or the sag window ends.
    damping : tuple of DampingStep
        Against what was felt on the last ride, where the counts are known and the tyres were right.
    limits : BandLimits
    """

    end: End
    kind: AdjusterKind
    now: float | None
    counts: tuple[AtCount, ...]
    now_in_doubt: bool = False
    hard_end_known: bool = True
    stroke_mm: float | None = None
    bumper_mm: float | None = None
    rides: tuple[RideSeen, ...] = ()
    worst_route: str = ""
    sag_window: Window | None = None
    sag_measured: bool = True
    start: float | None = None
    start_why: str = ""
    load: LoadVerdict = LoadVerdict.NOT_CHECKED
    events: tuple[str, ...] = ()
    tyres: str | None = None
    spring: str | None = None
    damping: tuple[DampingStep, ...] = ()
    limits: BandLimits = field(default_factory=BandLimits)

    @property
    def bumper_is_assumed(self) -> bool:
        """Nobody knows where the bumper is met, so a share of the stroke stands in."""
        return self.bumper_mm is None and self.stroke_mm is not None

    @property
    def runs(self) -> tuple[RideSeen, ...]:
        """Rides whose readings count."""
        return tuple(ride for ride in self.rides if ride.flaw is None)

    @property
    def last(self) -> RideSeen | None:
        """The latest ride, flawed or not."""
        return self.rides[-1] if self.rides else None

    def at(self, count: float | None) -> AtCount | None:
        """Find what is to be expected at a count."""
        return next((one for one in self.counts if one.count == count), None)

    def sag_at(self, count: float | None) -> Judgement:
        """Rider sag at a count against its window."""
        here = self.at(count)
        known = self.sag_measured and self.sag_window is not None
        if not known or self.sag_window is None or here is None or here.rider_sag_percent is None:
            return Judgement.UNKNOWN
        return judge_sag(here.rider_sag_percent, self.sag_window)

    def in_sag_window(self, one: AtCount) -> bool:
        """Whether a count keeps rider sag in its window by its value; every count does where it was not measured."""
        if one.rider_sag_percent is None or self.sag_window is None or not self.sag_measured:
            return True
        return self.sag_window.low <= one.rider_sag_percent.value <= self.sag_window.high

    def verdict(self, ride: RideSeen) -> Verdict:
        """Judge one ride's reading; none on one that does not count.

        Felt bottomed, and an interval that straddles the last band: bottomed.
        """
        if ride.flaw is not None:
            return Verdict((), f"No verdict: {ride.flaw.value}.")
        found = judge_used(ride.used_mm, self.bumper_mm, self.stroke_mm, self.limits)
        if Felt.BOTTOMED in ride.felt and found.band is None and Band.BOTTOMED in found.bands:
            return replace(
                found, bands=(Band.BOTTOMED,), words="Bottomed: the marker allows it, and it was felt."
            )
        return found


def is_vague(used_mm: Quantity, stroke_mm: float | None) -> bool:
    """Whether a reading's own uncertainty is too large for a verdict: over S/10, or over 5 mm."""
    limit = VAGUE_MM if stroke_mm is None else min(VAGUE_MM, VAGUE_SHARE * stroke_mm)
    return used_mm.u95 > limit

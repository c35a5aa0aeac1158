"""Which counts are allowed, which one the sag and the risk ask for, and what forbids less."""

from __future__ import annotations

from suspension.advice.situation import AtCount, Felt, RideSeen, Situation
from suspension.advice.step import CHANCE_ALLOWED, CHANCE_FOR_LESS, in_words
from suspension.stroke.verdict import Band

# Sag is set so many percentage points inside the window's edge where the window has room [a choice].
_INSIDE_EDGE_PERCENT = 1.0


def went_to_the_bumper(s: Situation, ride: RideSeen) -> bool:
    """Whether a ride reached the bumper: at the stop, above the window, or felt so where the interval allows it."""
    if ride.flaw is not None:
        return False
    if ride.at_stop:
        return True
    verdict = s.verdict(ride)
    if verdict.is_above_window:
        return True
    straddles = any(band in (Band.BUMPER, Band.BOTTOMED) for band in verdict.bands)
    return straddles and Felt.BOTTOMED in ride.felt


def reached_bumper_at(s: Situation, count: float | None) -> tuple[RideSeen, ...]:
    """Rides of this load at a count or a firmer one, over any route, that went to the bumper."""
    return tuple(ride for ride in s.runs if ride.is_at_or_above(count) and went_to_the_bumper(s, ride))


def sag_count(s: Situation) -> float | None:
    """Find the count whose rider sag lies nearest the window's middle; None where sag is not known at all."""
    if s.sag_window is None:
        return None
    middle = (s.sag_window.low + s.sag_window.high) / 2
    known = [
        (abs(one.rider_sag_percent.value - middle), one.count)
        for one in s.counts
        if one.rider_sag_percent is not None
    ]
    return min(known)[1] if known else None


def softest_safe(s: Situation) -> float | None:
    """Softest count inside the sag window with at most the allowed chance of the bumper."""
    return next(
        (one.count for one in allowed(s) if one.chance is not None and one.chance <= CHANCE_ALLOWED), None
    )


def allowed(s: Situation) -> list[AtCount]:
    """List the counts whose sag lies in the window, a little inside its edges where there is room."""
    inside = [one for one in s.counts if s.in_sag_window(one)]
    if s.sag_window is None or not s.sag_measured:
        return inside
    low, high = s.sag_window.low + _INSIDE_EDGE_PERCENT, s.sag_window.high - _INSIDE_EDGE_PERCENT
    inner = [
        one for one in inside if one.rider_sag_percent is None or low <= one.rider_sag_percent.value <= high
    ]
    return inner or inside


def firmest_allowed(s: Situation) -> float | None:
    """Firmest count that range and sag window allow; today's where no count is in the window."""
    found = allowed(s)
    return found[-1].count if found else s.now


def towards(s: Situation, now: float, wanted: float) -> float:
    """Go towards a count by as much as one change may: 2 clicks, one turn, one ramp position."""
    most = s.kind.most_at_once
    return now + max(-most, min(most, wanted - now))


def why_not_less(s: Situation, to: float) -> str | None:
    """Say what forbids a softer count; None where nothing does.

    Parameters
    ----------
    s : Situation
    to : float
        The softer count.
    """
    below = s.at(to)
    if s.now is None or below is None:
        return "The adjuster is at its soft end."
    for ride in s.runs:
        # A ride at a softer count than the one in question says nothing against it that its chance does not say.
        if ride.count is not None and ride.count < to:
            continue
        if went_to_the_bumper(s, ride):
            return "A ride at this or a firmer count reached the bumper."
        if Felt.BOTTOMED in ride.felt:
            return "The rider felt it bottom at this or a firmer count."
    if below.chance is None:
        return "How often it would reach the bumper is not known."
    if below.chance > CHANCE_FOR_LESS:
        return f"At {s.kind.place(to)}, {in_words(below.chance)} would reach the bumper."
    return None

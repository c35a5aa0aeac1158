"""The next step by risk: sag first, then the softest count at which the bumper is met in one ride of ten at most.

The rules are tried in the order of `RULES`; the first that has something to say decides. Each is a function of the
situation alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from suspension.advice.situation import AtCount, Felt, Flaw, RideSeen, Situation
from suspension.loads.limits import LoadVerdict
from suspension.sag.windows import Judgement
from suspension.springs.adjuster import AdjusterKind
from suspension.stroke.verdict import Band

# Chance of meeting the bumper that a setting may have [common practice, no source; domain.md 6].
CHANCE_ALLOWED = 0.10
# Less preload only where even then the chance stays under this [common practice, no source; domain.md 6].
CHANCE_FOR_LESS = 0.05
# Before so many runs the count moves only after the bumper, or where the chance is plainly too high.
RUNS_TO_JUDGE = 3
# "Plainly": one ride in four. Measured on simulated owners (docs/measured.md): a lower one moves good settings.
CHANCE_PLAINLY_TOO_HIGH = 0.25
# Sag is set this many percentage points inside the window's edge where the window has room [a choice].
_INSIDE_EDGE_PERCENT = 1.0


class Action(StrEnum):
    """What to do next."""

    STOP_RIDING = "stop riding"
    REDUCE_LOAD = "reduce the load"
    TYRES = "set the tyre pressures"
    READ_AGAIN = "read again"
    START = "start at"
    MORE = "more preload"
    LESS = "less preload"
    RIDE_AGAIN = "ride again"
    REVIEW = "have spring and oil level reviewed"
    MEASURE_SAG = "measure sag"
    FOUND = "found"
    NONE = "no change"


@dataclass(frozen=True)
class Step:
    """What the rules came to.

    Attributes
    ----------
    action : Action
    count : float or None
        The count to set, up from the soft end; None where nothing is to be set.
    why : tuple of str
        Reasons, in sentences.
    done : str or None
        Why there is nothing more to do, if so.
    missing : tuple of str
        What a setting that looks right still lacks to be called found.
    """

    action: Action
    count: float | None
    why: tuple[str, ...]
    done: str | None = None
    missing: tuple[str, ...] = ()


def next_step(situation: Situation) -> Step:
    """Give the next step for one end and load."""
    for rule in RULES:
        found = rule(situation)
        if found is not None:
            return found
    raise AssertionError("the last rule always answers")


def most_at_once(kind: AdjusterKind) -> int:
    """Steps that one change may take: 2 clicks, one turn, one ramp position [common practice, no source]."""
    return kind.most_at_once


def _events(s: Situation) -> Step | None:
    if not s.events:
        return None
    return Step(
        Action.STOP_RIDING,
        None,
        tuple(
            f"Recorded: {event}. Do not ride until a qualified mechanic has looked at it."
            for event in s.events
        ),
        "Record that it was cleared before the next step is worked out.",
    )


def _overload(s: Situation) -> Step | None:
    if s.load is not LoadVerdict.OVER:
        return None
    return Step(
        Action.REDUCE_LOAD,
        None,
        ("The load is over what the plate permits. Preload never raises a load rating.",),
        "Reduce the load before anything is adjusted.",
    )


def _tyres(s: Situation) -> Step | None:
    return None if s.tyres is None else Step(Action.TYRES, None, (s.tyres,))


_FLAW_WORDS = {
    Flaw.MISSING: "There is no valid reading of the last ride: the marker is missing, or was not read.",
    Flaw.SLIPPED: "The marker shows less than the rider alone compresses: it slipped, or was not set. It is no run.",
    Flaw.BEYOND: "The reading lies beyond the stroke: the marker slipped, or a length in the bike's file is wrong.",
    Flaw.VAGUE: "The reading is too vague to judge by: its own uncertainty is over 5 mm, or a tenth of the stroke.",
}


def _flawed(s: Situation) -> Step | None:
    if s.last is None or s.last.flaw is None:
        return None
    return Step(Action.READ_AGAIN, s.now, (_FLAW_WORDS[s.last.flaw],))


def _no_rides(s: Situation) -> Step | None:
    """Before any ride: the count that sets sag."""
    if s.runs:
        return None
    best = sag_count(s)
    if best is None:
        return Step(
            Action.MEASURE_SAG,
            s.now,
            ("No ride of this load counts yet, and rider sag was not measured: sag comes first.",),
        )
    return Step(Action.START, best, ("No ride of this load counts yet: this count sets rider sag.",))


def _sag_first(s: Situation) -> Step | None:
    """Rider sag clearly outside its window is set first."""
    judged = s.sag_at(s.now)
    if s.now is None or judged not in (Judgement.OVER, Judgement.UNDER):
        return None
    best = sag_count(s)
    if best is None or best == s.now or (best > s.now) is not (judged is Judgement.OVER):
        return None
    if judged is Judgement.OVER:
        return Step(
            Action.MORE,
            _towards(s, s.now, best),
            ("Rider sag is over its window: sag comes before the markers.",),
        )
    if why_not_less(s) is not None:
        return None
    return Step(Action.LESS, s.now - 1, ("Rider sag is under its window, and no ride forbids less.",))


def _by_risk(s: Situation) -> Step | None:
    """More preload after the bumper, or by the chance of meeting it."""
    last, here = s.last, s.at(s.now)
    if s.now is None or last is None or here is None:
        return None
    bottomed = went_to_the_bumper(s, last) and last.count >= s.now
    goal = softest_safe(s)
    judged_by_runs = len(s.runs) >= RUNS_TO_JUDGE and here.chance is not None and here.chance > CHANCE_ALLOWED
    plainly = here.chance is not None and here.chance > CHANCE_PLAINLY_TOO_HIGH
    if not (bottomed or judged_by_runs or plainly):
        return None
    why = _why_more(s, last, here, bottomed)
    wanted = s.now + 1 if goal is None else max(goal, s.now + 1 if bottomed else s.now)
    if goal is None:
        wanted = s.now + most_at_once(s.kind)
    firmest = _firmest_allowed(s)
    if firmest is not None and firmest <= s.now:
        return _at_the_limit(s, why)
    to = _towards(s, s.now, wanted if firmest is None else min(wanted, firmest))
    return None if to <= s.now else Step(Action.MORE, to, why)


def _why_more(s: Situation, last: RideSeen, here: AtCount, bottomed: bool) -> tuple[str, ...]:
    why = []
    if last.at_stop:
        why.append(
            "The marker reached the bumper or came within its own width of it: it went at least so far."
        )
    elif bottomed and last.used_mm is not None:
        why.append(f"It went to {last.used_mm.value:.0f} mm, into the bumper.")
    if here.chance is not None:
        why.append(
            f"At {s.kind.place(here.count)} {in_words(here.chance)} over this route would reach the bumper."
        )
    return tuple(why)


def _at_the_limit(s: Situation, why: tuple[str, ...]) -> Step:
    assert s.now is not None
    above = s.at(s.now + 1)
    by_sag = above is not None and not s.in_sag_window(above)
    ends = (
        "More preload would take rider sag under its window."
        if by_sag
        else "The adjuster is at its hard end."
    )
    needed = s.spring or "Reduce the load, or have spring rate, oil level and compression damping reviewed."
    return Step(Action.REVIEW, s.now, why, f"{ends} {needed}")


def _found_or_again(s: Situation) -> Step | None:
    """Nothing asks for a change: found, the end for a quiet bike, or one more ride."""
    last = s.last
    assert last is not None
    missing = lacks(s)
    runs = [ride for ride in s.runs if ride.count == s.now and ride.route == s.worst_route]
    if missing:
        only_runs = len(missing) == 1 and len(runs) < RUNS_TO_JUDGE
        why = (
            "Nothing asks for a change."
            if only_runs
            else "Nothing asks for a change, and it is not found yet."
        )
        return Step(Action.RIDE_AGAIN, s.now, (why, *_quiet_words(s, last)), missing=missing)
    deepest = max((ride.used_mm.value for ride in runs if ride.used_mm is not None), default=None)
    verdicts = [s.verdict(ride) for ride in runs]
    if deepest is not None and s.stroke_mm is not None and all(v.band is Band.PLENTY for v in verdicts):
        words = (
            f"Sag is right, and {s.stroke_mm - deepest:.0f} mm stay in reserve over your worst route. A softer spring "
            "or a lower oil level would use them; the present setting is safe."
        )
        return Step(Action.FOUND, s.now, ("Three quiet rides with sag in its window.",), words)
    return Step(
        Action.FOUND,
        s.now,
        ("Three runs at this count, and nothing asks for a change.",),
        "This setting is found.",
    )


RULES: tuple[Callable[[Situation], Step | None], ...] = (
    _events,
    _overload,
    _tyres,
    _flawed,
    _no_rides,
    _sag_first,
    _by_risk,
    _found_or_again,
)
"""In the order in which they decide."""


def lacks(s: Situation) -> tuple[str, ...]:
    """What the present count still lacks to be called found, in words."""
    runs = [ride for ride in s.runs if ride.count == s.now and ride.route == s.worst_route]
    found = []
    if s.now is None:
        found.append("The count is in doubt: count it again from the soft end.")
    if len(runs) < RUNS_TO_JUDGE:
        number = RUNS_TO_JUDGE - len(runs)
        over = f" over {s.worst_route}" if s.worst_route else " over the worst route"
        found.append(f"{number} more {'run' if number == 1 else 'runs'}{over} at this count.")
    if any(ride.legs_differ for ride in runs):
        found.append("The two legs differ: look for binding or a slipped marker.")
    firm = [ride for ride in s.runs if s.now is not None and ride.count >= s.now]
    if any(went_to_the_bumper(s, ride) for ride in firm):
        found.append("A ride at this or a firmer count reached the bumper.")
    if any(Felt.BOTTOMED in ride.felt for ride in runs):
        found.append("The rider felt it bottom.")
    judged = s.sag_at(s.now)
    if judged is Judgement.UNKNOWN:
        found.append("Rider sag was not measured, or has no window.")
    elif judged in (Judgement.OVER, Judgement.UNDER):
        found.append(f"Rider sag is {judged.value}.")
    here = s.at(s.now)
    if here is not None and here.chance is not None and here.chance > CHANCE_ALLOWED:
        found.append(f"{in_words(here.chance).capitalize()} would reach the bumper; one in ten is allowed.")
    return tuple(found)


def why_not_less(s: Situation) -> str | None:
    """What forbids one step less; None where nothing does."""
    if s.now is None or s.at(s.now - 1) is None:
        return "The adjuster is at its soft end."
    for ride in s.runs:
        if ride.count >= s.now and went_to_the_bumper(s, ride):
            return "A ride at this or a firmer count reached the bumper."
        if Felt.BOTTOMED in ride.felt and ride.count >= s.now:
            return "The rider felt it bottom at this or a firmer count."
    below = s.at(s.now - 1)
    assert below is not None
    if below.chance is not None and below.chance > CHANCE_FOR_LESS:
        return f"One step less, {in_words(below.chance)} would reach the bumper."
    return None


def went_to_the_bumper(s: Situation, ride: RideSeen) -> bool:
    """Whether a ride reached the bumper: at the stop, above the window, or felt so at the window's very top."""
    if ride.flaw is not None:
        return False
    if ride.at_stop:
        return True
    verdict = s.verdict(ride)
    if verdict.is_above_window:
        return True
    straddles = any(band in (Band.BUMPER, Band.BOTTOMED) for band in verdict.bands)
    return straddles and Felt.BOTTOMED in ride.felt


def sag_count(s: Situation) -> float | None:
    """The count whose rider sag lies nearest the window's middle; None where sag is not known."""
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
    for one in _allowed(s):
        if one.chance is not None and one.chance <= CHANCE_ALLOWED:
            return one.count
    return None


def _allowed(s: Situation) -> list[AtCount]:
    """Counts whose sag lies in the window, a little inside its edges where there is room."""
    if s.sag_window is None:
        return list(s.counts)
    low, high = s.sag_window.low + _INSIDE_EDGE_PERCENT, s.sag_window.high - _INSIDE_EDGE_PERCENT
    inner = [
        one for one in s.counts if one.rider_sag_percent is None or low <= one.rider_sag_percent.value <= high
    ]
    return inner or [one for one in s.counts if s.in_sag_window(one)]


def _firmest_allowed(s: Situation) -> float | None:
    allowed = _allowed(s)
    return allowed[-1].count if allowed else s.now


def _towards(s: Situation, now: float, wanted: float) -> float:
    """Go towards a count by as much as one change may."""
    most = most_at_once(s.kind)
    return now + max(-most, min(most, wanted - now))


def _quiet_words(s: Situation, last: RideSeen) -> tuple[str, ...]:
    words = []
    if s.verdict(last).band is Band.PLENTY:
        words.append("One quiet ride is not enough reason to reduce preload.")
    if Felt.HARSH in last.felt:
        words.append(
            "Harsh with stroke in reserve: look at tyre pressure, damping (less compression first) and stiction "
            "before preload."
        )
    return tuple(words)


def in_words(chance: float) -> str:
    """A chance in words: "about 1 ride in 4", "fewer than 1 ride in 50"."""
    if chance < 0.02:
        return "fewer than 1 ride in 50"
    if chance > 0.95:
        return "nearly every ride"
    if chance > 0.6:
        return f"about {math.floor(chance * 10 + 0.5)} rides in 10"
    return f"about 1 ride in {max(2, math.floor(1 / chance + 0.5))}"

"""The rules of the next step, one function each: a step where it has something to say, else None."""

from __future__ import annotations

from suspension.advice.counts import (
    allowed,
    firmest_allowed,
    reached_bumper_at,
    sag_count,
    softest_safe,
    towards,
    went_to_the_bumper,
    why_not_less,
)
from suspension.advice.found import lacks, runs_here
from suspension.advice.situation import AtCount, Felt, Flaw, RideSeen, Situation
from suspension.advice.step import (
    CHANCE_ALLOWED,
    CHANCE_PLAINLY_TOO_HIGH,
    RUNS_TO_JUDGE,
    Action,
    Lack,
    Step,
    in_words,
)
from suspension.loads.limits import LoadVerdict
from suspension.sag.windows import End, Judgement
from suspension.stroke.verdict import Band

AT_A_LIMIT = {
    End.FRONT: "Reduce the load, or have spring rate, oil level and compression damping reviewed.",
    End.REAR: "Reduce the load, or have spring rate and compression damping reviewed.",
}
NOT_PRELOAD = (
    "Bottoming with rider sag in its window is a matter of spring rate, compression damping or air gap, not of more "
    "preload."
)

DAMPING_WORDS = {
    Felt.HARSH: "Harsh with stroke in reserve, and the tyre pressure is right: less damping before preload.",
    Felt.WALLOWS: "It wallows, and the tyre pressure is right: more damping, with preload as it is.",
    Felt.DIVES: "It dives, and the tyre pressure is right: more compression damping slows it, with preload as it is.",
}
FLAW_WORDS = {
    Flaw.MISSING: "There is no valid reading of the last ride: the marker is missing, or was not read.",
    Flaw.UNMOVED: "The marker has not moved since it was set, but every ride goes deeper than that: it slipped, or was "
    "read before the ride.",
    Flaw.SLIPPED: "The marker shows less than the rider alone compresses: it slipped, or was not set.",
    Flaw.BEYOND: "The last reading contradicts the lengths in the bike's file: the marker slipped, or one of them is "
    "wrong.",
    Flaw.VAGUE: "The last reading is too vague to judge by: its own uncertainty is over 5 mm, or a tenth of the "
    "stroke.",
}


def events(s: Situation) -> Step | None:
    """Stop riding after a leak, a knock or a crack, until it was looked at."""
    if not s.events:
        return None
    why = tuple(
        f"Recorded: {event}. Do not ride until a qualified mechanic has looked at it." for event in s.events
    )
    done = "Record that it was looked at (strandline ride add --event-cleared all) before the next step is worked out."
    return Step(Action.STOP_RIDING, None, why, done)


def overload(s: Situation) -> Step | None:
    """Over the plate: reduce the load."""
    if s.load is not LoadVerdict.OVER:
        return None
    why = "The load is over what the plate permits. Preload never raises a load rating."
    return Step(Action.REDUCE_LOAD, None, (why,), "Reduce the load before anything is adjusted.")


def tyres(s: Situation) -> Step | None:
    """Wrong tyre pressures come first."""
    return None if s.tyres is None else Step(Action.TYRES, s.now, (s.tyres,))


def flawed(s: Situation) -> Step | None:
    """Read again a last reading that is no run."""
    if s.last is None or s.last.flaw is None:
        return None
    return Step(Action.READ_AGAIN, s.now, (f"{FLAW_WORDS[s.last.flaw]} It does not count as a ride.",))


def before_rides(s: Situation) -> Step | None:
    """Before any ride of this load: the count that sets its sag, in one go."""
    if s.runs:
        return None
    best = s.start if s.start is not None else sag_count(s)
    if best is None:
        why = "No ride of this load counts yet, and rider sag was not measured: sag comes first."
        return Step(Action.MEASURE_SAG, s.now, (why,))
    basis = s.start_why or "No ride of this load counts yet: this count sets rider sag."
    return Step(Action.START, best, (basis,))


def count_unknown(s: Situation) -> Step | None:
    """Nobody knows the count: count it, and wind to one that is named."""
    if s.now is not None or s.last is None:
        return None
    best = sag_count(s) if s.sag_measured else None
    if best is not None:
        why = "No count was recorded. This one sets rider sag in the middle of its window."
        return Step(Action.COUNT, best, (why,))
    bumper = went_to_the_bumper(s, s.last)
    more = s.kind.most_at_once if bumper else 0
    where = f"as far as it was and {s.kind.some(more)} more" if bumper else "back to where it was"
    why = f"No count was recorded. Count while you back it off to the soft end, then wind it {where}, and record it."
    return Step(Action.COUNT, None, (*(_bumper_words(s, s.last) if bumper else ()), why), more=more)


def sag_first(s: Situation) -> Step | None:
    """Rider sag clearly outside its window is set first."""
    judged = s.sag_at(s.now)
    if s.now is None or judged not in (Judgement.OVER, Judgement.UNDER):
        return None
    best = sag_count(s)
    if best is None or best == s.now or (best > s.now) is not (judged is Judgement.OVER):
        return None
    to = towards(s, s.now, best)
    if judged is Judgement.OVER:
        return Step(Action.MORE, to, ("Rider sag is over its window: sag comes before the markers.",))
    while to < s.now:
        if why_not_less(s, to) is None:
            return Step(Action.LESS, to, ("Rider sag is under its window, and no ride forbids less.",))
        to += 1
    return None


def by_risk(s: Situation) -> Step | None:
    """More preload after the bumper, or by the chance of meeting it."""
    last, here = s.last, s.at(s.now)
    if s.now is None or last is None or here is None:
        return None
    bottomed = went_to_the_bumper(s, last) and last.is_at_or_above(s.now)
    chance = here.chance
    judged = len(s.runs) >= RUNS_TO_JUDGE and chance is not None and chance > CHANCE_ALLOWED
    plainly = chance is not None and chance > CHANCE_PLAINLY_TOO_HIGH
    if not (bottomed or judged or plainly):
        return None
    why = _why_more(s, last, here, bottomed)
    if not bottomed and not plainly and not s.sag_measured and s.sag_window is not None:
        words = "How far preload may go is for rider sag to say, and it was not measured."
        return Step(Action.MEASURE_SAG, s.now, (*why, words))
    firmest = firmest_allowed(s)
    if firmest is None or firmest <= s.now:
        return _at_the_limit(s, why)
    to = towards(s, s.now, min(_wanted(s, last, bottomed), firmest))
    if to <= s.now:
        return None
    if _no_count_will_do(s, firmest):
        words = f"Even at {s.kind.place(firmest)}, the firmest that range and sag allow, it is too many."
        return Step(Action.REVIEW, to, (*why, words), s.spring or AT_A_LIMIT[s.end])
    return Step(Action.MORE, to, why)


def _no_count_will_do(s: Situation, firmest: float) -> bool:
    """Whether by twice the rides that are judged by even the firmest count meets the bumper far too often."""
    chance = next((one.chance for one in s.counts if one.count == firmest), None)
    return len(s.runs) >= 2 * RUNS_TO_JUDGE and chance is not None and chance > CHANCE_PLAINLY_TOO_HIGH


def _wanted(s: Situation, last: RideSeen, bottomed: bool) -> float:
    """Find the count that the risk asks for; as far as one change may go where no count is safe."""
    assert s.now is not None
    goal = softest_safe(s)
    if goal is not None:
        return max(goal, s.now + 1 if bottomed else s.now)
    above = s.at(s.now + 1)
    known = above is not None and above.chance is not None
    return s.now + (s.kind.most_at_once if known or last.at_stop else 1)


def _bumper_words(s: Situation, ride: RideSeen) -> tuple[str, ...]:
    if ride.at_stop:
        return ("The marker reached the bumper or came within its own width of it: it went at least so far.",)
    assert ride.used_mm is not None
    to = "to the stop" if s.verdict(ride).band is Band.BOTTOMED else "into the bumper"
    if s.bumper_is_assumed and to == "into the bumper":
        to = "into the last tenth of the stroke, where a bumper or lock is taken to be"
    return (f"The last ride went to {ride.used_mm.value:.0f} mm, {to}.",)


def _why_more(s: Situation, last: RideSeen, here: AtCount, bottomed: bool) -> tuple[str, ...]:
    why = list(_bumper_words(s, last)) if bottomed else []
    if here.chance is not None and not bottomed:
        over = f" over {s.worst_route}" if s.worst_route else ""
        why.append(
            f"At {s.kind.at(here.count)} {in_words(here.chance)}{over} would reach the bumper; 1 in 10 is allowed."
        )
    return tuple(why)


def _at_the_limit(s: Situation, why: tuple[str, ...]) -> Step:
    assert s.now is not None
    above = s.at(s.now + 1)
    ends = "The adjuster is at its hard end." if s.hard_end_known else "No firmer count can be reckoned with."
    if above is not None:
        ends = "More preload would take rider sag under its window."
        if s.sag_at(s.now) in (Judgement.INSIDE, Judgement.BETWEEN):
            why = (*why, NOT_PRELOAD)
    return Step(Action.REVIEW, s.now, why, f"{ends} {s.spring or AT_A_LIMIT[s.end]}")


def damping(s: Situation) -> Step | None:
    """Change damping against what was felt, the tyres right, where preload stays.

    Softer only with stroke in reserve and nothing at the bumper. Before "found", which would leave the complaint alone;
    never beside a change of preload.
    """
    last, here = s.last, s.at(s.now)
    if not s.damping or last is None or here is None or s.now_in_doubt or last.legs_differ:
        return None
    one = s.damping[0]  # harsh comes first: against it damping is taken out, against the others put in
    if one.felt is Felt.HARSH:
        safe = here.chance is not None and here.chance <= CHANCE_ALLOWED and not reached_bumper_at(s, s.now)
        if (
            not safe
            or s.verdict(last).band is not Band.PLENTY
            or any(Felt.BOTTOMED in ride.felt for ride in s.runs)
        ):
            return None
    elif Felt.HARSH in last.felt:
        return None
    elif one.felt is Felt.WALLOWS and s.sag_at(s.now) not in (Judgement.INSIDE, Judgement.BETWEEN):
        return None  # sag comes first
    return Step(Action.DAMPING, s.now, (DAMPING_WORDS[one.felt],), damping=one.words)


def short_of_found(s: Situation) -> Step | None:
    """Nothing asks for a change, but something is missing: one more ride, sag, or an end with a reason."""
    missing = lacks(s)
    if not missing:
        return None
    first = next((lack for lack in missing if lack.action is Action.RIDE_AGAIN), missing[0])
    if first.action is Action.RIDE_AGAIN:
        why = "Nothing asks for a change yet; ride again at this count."
        return Step(Action.RIDE_AGAIN, s.now, (why,), missing=missing)
    if first.action is Action.MEASURE_SAG:
        why = "By the markers this count is right; rider sag is what is missing."
        return Step(Action.MEASURE_SAG, s.now, (why,), missing=missing)
    why, done = _stuck(s, missing)
    return Step(Action.REVIEW, s.now, (why,), done, missing)


def _stuck(s: Situation, missing: tuple[Lack, ...]) -> tuple[str, str]:
    """Say why more rides at this count would not find it, and what is looked at instead."""
    hand = s.spring or AT_A_LIMIT[s.end]
    felt = any(Felt.BOTTOMED in ride.felt or ride.legs_differ for ride in runs_here(s))
    if felt or not allowed(s):
        return "More rides at this count would not settle it.", hand
    return "More rides at this count would not settle it; less or more preload is not called for.", hand


def found(s: Situation) -> Step:
    """All that a setting needs is there."""
    runs = runs_here(s)
    deepest = max((ride.used_mm.value for ride in runs if ride.used_mm is not None), default=None)
    quiet = all(s.verdict(ride).band is Band.PLENTY for ride in runs)
    oil = " or a lower oil level" if s.end is End.FRONT else ""
    if deepest is not None and s.stroke_mm is not None and quiet:
        done = (
            f"Sag is right, and {s.stroke_mm - deepest:.0f} mm stay in reserve to the hard stop over your worst "
            f"route. A softer spring{oil} would use them; the present setting is safe."
        )
        return Step(Action.FOUND, s.now, ("The rides were quiet, with rider sag in its window.",), done)
    why = f"{len(runs)} rides at this count, and nothing asks for a change."
    return Step(Action.FOUND, s.now, (why,), "This setting is found.")

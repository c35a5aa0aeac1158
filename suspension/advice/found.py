"""What a setting needs before it is called found, and what is said of a ride that felt wrong."""

from __future__ import annotations

from collections.abc import Collection

from suspension.advice.counts import reached_bumper_at, sag_count, went_to_the_bumper
from suspension.advice.situation import Felt, RideSeen, Situation
from suspension.advice.step import CHANCE_ALLOWED, RUNS_TO_JUDGE, Action, Lack, in_words
from suspension.sag.windows import Judgement
from suspension.stroke.verdict import Band

# Rides of one load after which rides at softer counts count, too [a choice: three times three].
MANY_RUNS = 9

HARSH = (
    "Harsh with stroke in reserve: look at tyre pressures, damping (less compression first) and stiction before "
    "preload."
)


WALLOWS = (
    "Wallows: rider sag and tyre pressure first, then more rebound damping, a click at a time. If it began of itself, "
    "or comes when the damper is hot, the damper is worn: have it looked at."
)
LEGS_DIFFER = (
    "The two legs differ by more than their uncertainty: look for binding or a slipped marker. The deeper one was "
    "used."
)


def runs_here(s: Situation) -> tuple[RideSeen, ...]:
    """List the runs over the worst route at today's count."""
    return tuple(ride for ride in s.runs if ride.count == s.now and ride.route == s.worst_route)


def runs_that_count(s: Situation) -> int:
    """How many runs speak for today's count: those at it; after nine rides also quiet ones at a softer count.

    A ride at a softer count went deeper than it would have here. Without this 1 in 2,000 simulated owners, who move
    by half a mm a click, is still short of three rides at one count after twelve (docs/measured.md).
    """
    here = len(runs_here(s))
    if here == 0 or s.now is None or len(s.runs) < MANY_RUNS:
        return here
    return here + sum(
        ride.count is not None
        and ride.count < s.now
        and ride.route == s.worst_route
        and not went_to_the_bumper(s, ride)
        for ride in s.runs
    )


def lacks(s: Situation) -> tuple[Lack, ...]:
    """List what today's count still lacks to be called found, what is looked at first in front."""
    found = []
    runs, here = runs_here(s), s.at(s.now)
    if s.now is None or s.now_in_doubt:
        found.append(Lack("The count is in doubt: count it again from the soft end.", Action.RIDE_AGAIN))
    number = RUNS_TO_JUDGE - runs_that_count(s)
    if number > 0:
        over = f" over {s.worst_route}" if s.worst_route else " over the worst route"
        found.append(Lack(f"{number} more {'ride' if number == 1 else 'rides'}{over} at this count."))
    if any(ride.legs_differ for ride in runs):
        found.append(Lack(LEGS_DIFFER, Action.REVIEW))
    if any(Felt.BOTTOMED in ride.felt for ride in runs):
        found.append(
            Lack(
                "The rider felt it bottom: see that the marker is snug, and have damping and oil level looked at.",
                Action.REVIEW,
            )
        )
    if reached_bumper_at(s, s.now):
        found.append(Lack("A ride at this or a firmer count reached the bumper.", Action.REVIEW))
    found += _sag_lacks(s)
    if here is None or here.chance is None:
        words = (
            "How often it reaches the bumper is not known: set stroke or bumper_contact in the bike's file."
        )
        found.append(Lack(words, Action.REVIEW))
    elif here.chance > CHANCE_ALLOWED:
        words = f"{in_words(here.chance).capitalize()} would reach the bumper; 1 in 10 is allowed."
        found.append(Lack(words, Action.REVIEW))
    return tuple(found)


def _sag_lacks(s: Situation) -> list[Lack]:
    judged = s.sag_at(s.now)
    if s.sag_window is None:
        words = "Rider sag has no window: set use in the bike's file to street, sport or off-road."
        return [Lack(words, Action.MEASURE_SAG)]
    if judged is Judgement.UNKNOWN:
        return [Lack("Rider sag was not measured: strandline sag.", Action.MEASURE_SAG)]
    if judged not in (Judgement.OVER, Judgement.UNDER):
        return []
    if sag_count(s) == s.now:
        spring = "softer" if judged is Judgement.UNDER else "stiffer"
        words = f"Rider sag is {judged.value}, as near as this spring comes: a {spring} one is needed."
    else:
        words = f"Rider sag is {judged.value}, and less preload is not safe at this count."
    return [Lack(words, Action.REVIEW)]


def notes(s: Situation, said: Collection[str] = ()) -> tuple[str, ...]:
    """Say what helps against what was felt, besides preload; what was said among the lacks is not said again."""
    last = s.last
    if last is None or last.flaw is not None:
        return ()
    found = []
    quiet = s.verdict(last).band is Band.PLENTY
    if quiet and sum(s.verdict(ride).band is Band.PLENTY for ride in s.runs) == 1:
        found.append("One quiet ride is not enough reason to reduce preload.")
    if Felt.HARSH in last.felt:
        found.append(HARSH if quiet else HARSH.replace("Harsh with stroke in reserve", "Harsh"))
    if Felt.WALLOWS in last.felt:
        found.append(WALLOWS)
    if Felt.BOTTOMED in last.felt and quiet:
        found.append(
            "It was felt to bottom, but the marker shows stroke in reserve: see that the marker is snug."
        )
    if last.legs_differ:
        found.append(LEGS_DIFFER)
    return tuple(one for one in found if one not in said)


def dive_words(step: str, added_mm: float | None, sag_allows: bool) -> str:
    """Say what one step more gives and costs a rider whose fork dives, without advising it.

    Parameters
    ----------
    step : str
        One step's name, such as "turn".
    added_mm : float or None
        Preload that one step more adds.
    sag_allows : bool
        Whether rider sag stays in its window.
    """
    if added_mm is None:
        return (
            f"Against dive: one {step} more makes the fork stand higher under braking and takes as much off its "
            "sag; how many mm is not known. The dive itself stays."
        )
    words = (
        f"Against dive: one {step} more makes the fork stand about {added_mm:.1f} mm higher under braking and costs "
        "as much sag. The dive itself stays."
    )
    return words if sag_allows else words + " It would take rider sag under its window."

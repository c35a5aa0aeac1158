"""The rules behind `advise`: which way a ride asks the preload to go, and what holds a step back."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.advice.facts import RUNS_TO_STOP, Action, Felt, RideFacts, Setup, step_mm
from suspension.loads.limits import LoadVerdict
from suspension.quantities.quantity import Bound
from suspension.sag.windows import End, Judgement
from suspension.stroke.verdict import Band, Verdict

# A learnt effect weaker than this, mm/mm, does not size a step: springs of any kind give more [derived: bumper,
# air and a rising motion ratio weaken -1, but not tenfold].
_WEAKEST_EFFECT = 0.1

AT_A_LIMIT = "Reduce the load, or have spring and oil level reviewed."
NOT_PRELOAD = (
    "It bottoms with its sag in the window: that is a matter of spring rate, damping or air gap, not of more "
    "preload."
)


@dataclass(frozen=True)
class Decision:
    """What the rules decide; fields as in `advise.Advice`. `expects`: whether a next reading is predicted."""

    action: Action
    steps: int
    reasons: tuple[str, ...]
    stop: str | None = None
    remarks: tuple[str, ...] = ()
    expects: bool = True


def decide(facts: RideFacts, setup: Setup, verdict: Verdict, target: float | None) -> Decision:
    """Apply the rules in their order, and add what the rider should know besides."""
    decision = _decide(facts, setup, verdict, target)
    remarks = [*decision.remarks, *_remarks(facts, setup, decision, verdict)]
    return Decision(
        decision.action, decision.steps, decision.reasons, decision.stop, tuple(remarks), decision.expects
    )


def _decide(facts: RideFacts, setup: Setup, verdict: Verdict, target: float | None) -> Decision:
    if setup.load is LoadVerdict.OVER:
        return Decision(
            Action.REDUCE_LOAD,
            0,
            ("The load is over what the plate permits. Preload never raises a load rating.",),
            "Reduce the load before anything is adjusted.",
            expects=False,
        )
    if facts.is_right_censored:
        return _after_bumper(facts, setup)
    if facts.used_mm is None:
        return Decision(
            Action.READ_AGAIN,
            0,
            ("There is no valid reading: the marker is missing or slipped.",),
            expects=False,
        )
    if not verdict.bands:
        return Decision(Action.NONE, 0, (verdict.words,))
    if verdict.is_above_window:
        return _above(facts, setup, verdict, target)
    if verdict.band is Band.WINDOW:
        return _in_window(facts)
    if verdict.band is Band.PLENTY:
        return _below(facts, setup)
    return Decision(
        Action.NONE,
        0,
        (
            f"{verdict.words} One such reading is not enough for a change: ride the same loop again at this "
            "setting.",
        ),
    )


def _after_bumper(facts: RideFacts, setup: Setup) -> Decision:
    """At least Sb - w: two clicks more, without an estimate."""
    if Felt.BOTTOMED in facts.felt and setup.rider_sag is Judgement.INSIDE:
        return Decision(Action.REVIEW, 0, (NOT_PRELOAD,), AT_A_LIMIT, expects=False)
    reason = (
        "The marker reached the bumper or came within its own width of it, so the ride used at least this much "
        "stroke and perhaps all of it. How far it went is not known, so no next reading is predicted."
    )
    return _more(setup, setup.adjuster.kind.most_at_once, (reason,), expects=False)


def _above(facts: RideFacts, setup: Setup, verdict: Verdict, target: float | None) -> Decision:
    assert facts.used_mm is not None and target is not None
    if verdict.band is Band.BOTTOMED and setup.rider_sag is Judgement.INSIDE:
        return Decision(Action.REVIEW, 0, (NOT_PRELOAD,), AT_A_LIMIT)
    depth = f"It went to {facts.used_mm.value:.0f} mm, deeper than the window; the target is {target:.0f} mm."
    one_step = step_mm(setup, 1)
    if one_step is None:
        reason = "The mm per step are not known: change one step, and ride again."
        return _more(setup, 1, (depth, reason))
    effect = max(_WEAKEST_EFFECT, -setup.effect.value)
    wanted = math.ceil((facts.used_mm.value - target) / (effect * one_step) - 1e-9)
    return _more(setup, max(1, wanted), (depth,))


def _in_window(facts: RideFacts) -> Decision:
    if facts.earlier_in_window + 1 >= RUNS_TO_STOP:
        return Decision(
            Action.NONE,
            0,
            ("It is in the window, as in the run before.",),
            f"{RUNS_TO_STOP} runs in the window: this setting is found. Log it for this load.",
        )
    return Decision(
        Action.NONE, 0, ("It is in the window: no change. Ride once more at this setting to be sure.",)
    )


def _below(facts: RideFacts, setup: Setup) -> Decision:
    if Felt.BOTTOMED in facts.felt:
        return Decision(
            Action.NONE,
            0,
            (
                "The rider felt it bottom, but the marker shows plenty in reserve: see that the marker is snug, "
                "and ride again.",
            ),
        )
    reasons = []
    if setup.rider_sag is Judgement.UNDER:
        reasons.append("There is plenty in reserve, and rider sag is under its window.")
    if Felt.HARSH in facts.felt:
        reasons.append("There is plenty in reserve, and the rider finds it harsh.")
    if not reasons:
        return Decision(
            Action.NONE,
            0,
            (
                "There is plenty in reserve, but sag and feel do not call for a change, and one quiet ride is not "
                "enough reason to reduce preload.",
            ),
        )
    now = setup.adjuster.from_soft(setup.count)
    if now is not None and now - 1 < setup.adjuster.first:
        stop = "The adjuster is at its soft end: only a softer spring would help."
        return Decision(Action.NONE, 0, tuple(reasons), stop)
    down = step_mm(setup, -1)
    if setup.sag_room_mm is not None and down is not None and -down > setup.sag_room_mm[1] + 1e-9:
        reasons.append("But a step less would take rider sag over its window.")
        return Decision(
            Action.NONE, 0, tuple(reasons), "No further step: the next one would move sag out of its window."
        )
    return Decision(Action.LESS, -1, tuple(reasons))


def _more(setup: Setup, wanted: int, reasons: tuple[str, ...], expects: bool = True) -> Decision:
    """Take as many steps as wanted, within 2 clicks (one turn, one position), the range and the sag window."""
    steps = min(wanted, setup.adjuster.kind.most_at_once)
    now = setup.adjuster.from_soft(setup.count)
    if now is not None and setup.adjuster.end is not None:
        # a turn counter may stand between two whole turns
        left = math.floor(setup.adjuster.end - now + 1e-9)
        if left < 1:
            stop = f"The adjuster is at its hard end. {AT_A_LIMIT}"
            return Decision(Action.REVIEW, 0, reasons, stop, expects=expects)
        steps = min(steps, left)
    if setup.sag_room_mm is not None:
        allowed = steps
        while allowed > 0 and (step_mm(setup, allowed) or 0.0) > setup.sag_room_mm[0] + 1e-9:
            allowed -= 1
        if allowed < 1:
            stop = f"More preload would take rider sag under its window. {AT_A_LIMIT}"
            return Decision(Action.REVIEW, 0, reasons, stop, expects=expects)
        if allowed < steps:
            reasons = (*reasons, "Fewer steps than wanted: more would take rider sag under its window.")
        steps = allowed
    return Decision(Action.MORE, steps, reasons, expects=expects)


def _remarks(facts: RideFacts, setup: Setup, decision: Decision, verdict: Verdict) -> list[str]:
    found = []
    if facts.legs_differ:
        found.append(
            "The two legs differ by more than their uncertainty: look for binding or a slipped marker. The deeper one "
            "was used."
        )
    if decision.steps:
        added = step_mm(setup, decision.steps)
        if added is not None and abs(setup.effect.value * added) < setup.ride_sd_mm:
            found.append(
                f"The step moves the deepest point by about {abs(setup.effect.value * added):.1f} mm, less than the "
                f"ride-to-ride scatter ({setup.ride_sd_mm:g} mm): one ride cannot show it. Go by sag and several runs."
            )
        if setup.sag_room_mm is None:
            found.append("Sag was not compared with its window: measure it before and after the change.")
        if setup.adjuster.end is None:
            found.append("The adjuster's range is not known: stop where it stiffens, and never force it.")
    if setup.load is LoadVerdict.NOT_CHECKED:
        found.append("Load not checked: axle loads or the plate's limits are not known.")
    elif setup.load is LoadVerdict.BETWEEN:
        found.append("The load is at the plate's limit within its uncertainty: weigh it.")
    if setup.rider_sag is Judgement.OVER:
        found.append("Rider sag is over its window.")
    if verdict.band is Band.WINDOW and Felt.BOTTOMED in facts.felt:
        found.append(
            "The rider felt it bottom, but the marker does not show it: see that the marker is snug."
        )
    if setup.end is End.FRONT and Felt.DIVES in facts.felt:
        found.append(dive_words(setup))
    if facts.used_mm is not None and facts.used_mm.bound is Bound.AT_MOST:
        found.append("The marker has not moved since it was set: at most this much was used.")
    return found


def dive_words(setup: Setup) -> str:
    """Say what one step more does for a fork that dives, and what it costs, without advising it."""
    one = setup.adjuster.kind.one
    added = step_mm(setup, 1)
    if added is None:
        return (
            f"Against dive: one {one} more makes the fork stand higher under braking and takes as much off its "
            "sag; how many mm is not known. The rate, and so the dive itself, does not change."
        )
    words = (
        f"Against dive: one {one} more makes the fork stand about {added:.1f} mm of stroke higher under braking, "
        f"and costs about {added:.1f} mm of sag. The rate, and so the dive itself, does not change."
    )
    if setup.sag_room_mm is not None and added > setup.sag_room_mm[0]:
        words += " It would take rider sag under its window."
    return words

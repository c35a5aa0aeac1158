"""The next step: what to change after a ride, why, what to expect of it, and when to stop.

One quiet ride is not enough reason to reduce preload. In the window: no change. Above it: more. Below it: no change,
unless sag is under its window or the rider reports harshness. Both sides are set the same, counted up from the soft
end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.advice.facts import Action, RideFacts, Setup, step_mm
from suspension.advice.rules import decide
from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.verdict import Verdict, judge_used

# A deepest point to aim at: this share of Sb, and at least so far before the marker meets the bumper, mm, that
# the marker can still be read [common practice, no source].
TARGET_SHARE = 0.88
TARGET_CLEAR_MM = 3.0


@dataclass(frozen=True)
class Advice:
    """The next step.

    Attributes
    ----------
    action : Action
    steps : int
        Signed: more is positive.
    resulting_count : float or None
        Up from the soft end, the same on both sides; None where the present count is uncertain.
    recount_first : bool
        The count is uncertain: see `recount.recount_steps`.
    verdict : Verdict
    target_mm : float or None
        What a change aims at.
    expected_mm : Quantity or None
        The next ride, ride-to-ride scatter included; None where it cannot be predicted.
    reasons : tuple of str
        Why, in sentences.
    stop : str or None
        Why there is nothing more to do, if so.
    remarks : tuple of str
    """

    action: Action
    steps: int
    resulting_count: float | None
    recount_first: bool
    verdict: Verdict
    target_mm: float | None
    expected_mm: Quantity | None
    reasons: tuple[str, ...]
    stop: str | None = None
    remarks: tuple[str, ...] = ()


def target_mm(
    bumper_met_mm: float | None, hard_stop_mm: float | None, marker_width_mm: float | None
) -> float | None:
    """Deepest point to aim at: min(0.88 Sb, Sb - w - 3 mm) [common practice, no source].

    Parameters
    ----------
    bumper_met_mm, hard_stop_mm : float or None
        Sb, and S which takes its place where Sb is not known.
    marker_width_mm : float or None
        w; without it the share of Sb counts alone.

    Returns
    -------
    float or None
        mm of stroke; None where neither stroke is known.
    """
    reference = bumper_met_mm if bumper_met_mm is not None else hard_stop_mm
    if reference is None:
        return None
    if marker_width_mm is None:
        return TARGET_SHARE * reference
    return min(TARGET_SHARE * reference, reference - marker_width_mm - TARGET_CLEAR_MM)


def advise(facts: RideFacts, setup: Setup) -> Advice:
    """Give the next step after a ride.

    Parameters
    ----------
    facts : RideFacts
    setup : Setup

    Returns
    -------
    Advice
        At most 2 clicks, or one turn or ramp position; never beyond the adjuster's range or the sag window.
    """
    verdict = judge_used(facts.used_mm, facts.bumper_met_mm, facts.hard_stop_mm, setup.limits)
    target = target_mm(facts.bumper_met_mm, facts.hard_stop_mm, facts.marker_width_mm)
    decision = decide(facts, setup, verdict, target)
    from_soft = setup.adjuster.from_soft(setup.count)
    sure = setup.count.is_sure and from_soft is not None
    resulting = from_soft + decision.steps if sure and from_soft is not None else None
    remarks = [*verdict.remarks, *decision.remarks]
    if not sure:
        remarks.append(
            "The present count is uncertain: count again from the soft end before anything is changed."
        )
    return Advice(
        action=decision.action,
        steps=decision.steps,
        resulting_count=resulting,
        recount_first=not sure,
        verdict=verdict,
        target_mm=target,
        expected_mm=expected_after(facts.used_mm, decision.steps, setup) if decision.expects else None,
        reasons=tuple(decision.reasons),
        stop=decision.stop,
        remarks=tuple(remarks),
    )


def expected_after(used_mm: Quantity | None, steps: int, setup: Setup) -> Quantity | None:
    """Estimate the next ride's deepest point after so many steps, mm: u + B N p.

    None for a censored reading, which says where the ride went no more than "at least", or where the mm per
    step are not known. The scatter of this ride and of the next are both in the uncertainty.
    """
    if used_mm is None or used_mm.bound is not Bound.EXACT:
        return None
    added = step_mm(setup, steps)
    if added is None:
        return None
    sd = math.hypot(used_mm.sigma, added * setup.effect.sigma, math.sqrt(2) * setup.ride_sd_mm)
    return Quantity(used_mm.value + setup.effect.value * added, sd)


def instruction(advice: Advice, setup: Setup, legs: int = 2) -> str:
    """Say the step in one sentence: which adjuster, how many steps, which way, on how many legs, and to where."""
    which = f"{setup.end.value.capitalize()} preload"
    if advice.steps == 0:
        return f"{which}: {advice.action.value}."
    kind, number = setup.adjuster.kind, abs(advice.steps)
    steps = kind.some(number)
    way = "more" if advice.steps > 0 else "less"
    sentence = f"{which}: {steps} {way}" + (" on both sides" if legs == 2 else "")
    if advice.resulting_count is None:
        return f"{sentence}; count again from the soft end first."
    return f"{sentence}, to {kind.place(advice.resulting_count)}."

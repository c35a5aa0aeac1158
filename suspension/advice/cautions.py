"""Cautions, each said where it matters and not everywhere.

All [common practice, no source] except that the plate's limits and public-road law bind.
"""

from __future__ import annotations

from enum import StrEnum

from suspension.advice.situation import Situation
from suspension.advice.step import Action, Step
from suspension.loads.limits import LoadCheck, LoadVerdict
from suspension.stroke.verdict import Band


class Caution(StrEnum):
    """A sentence of warning."""

    LOAD = (
        "Total and each axle must stay within the plate's limits; preload never raises a load rating. Tyre "
        "pressures cold, by the placard for this load."
    )
    STAND = "Bike secure on its stand, two people, fingers clear of springs and linkage."
    SPRINGS = "Never take springs or pressurised dampers apart."
    MARKER = (
        "Keep the marker clear of brake line, sensor and seal lip, and take it off when you are done. If less "
        "room is left at full compression than it is wide, do not ride with it."
    )
    NO_BOTTOMING = "Do not bottom it on purpose to measure. Ride by the law of public roads."
    AFTER_CHANGE = (
        "Preload changes height, steering, stand lean, clearance, chain slack and where the headlamp points: "
        "check them, and ride gently first."
    )
    RANGE = "Never wind an adjuster past its range: it can come off its thread."
    STOP_RIDING = (
        "After a leak, a bent tube, a hard knock or with a cracked bumper: stop riding until it has been "
        "checked."
    )
    OTHERS_FIRST = "The maker's manual, law and a qualified mechanic come before this advice."


def cautions_for_step(step: Step, situation: Situation) -> tuple[Caution, ...]:
    """Cautions that a step gives cause for; none where nothing is touched and nothing went wrong."""
    found: list[Caution] = []
    last = situation.last
    if last is not None and Band.BOTTOMED in situation.verdict(last).bands and last.flaw is None:
        found += [Caution.STOP_RIDING, Caution.NO_BOTTOMING]
    if step.action is Action.STOP_RIDING:
        found.append(Caution.STOP_RIDING)
    changes = step.action in (Action.MORE, Action.LESS, Action.START, Action.REVIEW)
    if changes and step.count is not None and step.count != situation.now:
        found += [Caution.STAND, Caution.RANGE, Caution.AFTER_CHANGE, Caution.OTHERS_FIRST]
    elif step.action is Action.COUNT or situation.now_in_doubt:
        found += [Caution.STAND, Caution.RANGE]
    if step.action is Action.DAMPING:
        found += [Caution.RANGE, Caution.OTHERS_FIRST]
    if step.action is Action.REDUCE_LOAD:
        found.append(Caution.LOAD)
    if step.action is Action.REVIEW:
        found += [Caution.SPRINGS, Caution.LOAD]
    if step.action is Action.READ_AGAIN:
        found.append(Caution.MARKER)
    return tuple(dict.fromkeys(found))


def cautions_for_loads(checks: tuple[LoadCheck, ...]) -> tuple[Caution, ...]:
    """Cautions that axle loads give cause for: all but loads well within their limits."""
    return () if all(check.verdict is LoadVerdict.WITHIN for check in checks) else (Caution.LOAD,)


def cautions_before_ride() -> tuple[Caution, ...]:
    """Cautions for a ride with a marker on."""
    return (Caution.MARKER, Caution.NO_BOTTOMING)

"""The next step by risk: sag first, then the softest count at which the bumper is met in one ride of ten at most.

The rules are tried in the order of `RULES`; the first that has something to say decides. Each is a function of the
situation alone; docs/advice-model.md has them with their thresholds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from suspension.advice import rules
from suspension.advice.found import notes
from suspension.advice.situation import Situation
from suspension.advice.step import Step

RULES: tuple[Callable[[Situation], Step | None], ...] = (
    rules.events,
    rules.overload,
    rules.tyres,
    rules.flawed,
    rules.before_rides,
    rules.count_unknown,
    rules.sag_first,
    rules.by_risk,
    rules.damping,
    rules.short_of_found,
    rules.found,
)
"""In the order in which they decide; the last always does."""


def next_step(situation: Situation) -> Step:
    """Give the next step for one end and load."""
    found = next(step for rule in RULES if (step := rule(situation)) is not None)
    return replace(found, notes=notes(situation, [lack.words for lack in found.missing]))

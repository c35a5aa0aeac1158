"""What the rules of the next step come to, and how a chance is said in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

# Chance of meeting the bumper that a setting may have [common practice, no source; domain.md 6].
CHANCE_ALLOWED = 0.10
# Less preload only where even then the chance stays under this [common practice, no source; domain.md 6].
CHANCE_FOR_LESS = 0.05
# Before so many runs the count moves only after the bumper, or where the chance is plainly too high; from so many on
# an interval is stated.
RUNS_TO_JUDGE = 3
# "Plainly": one ride in four. Measured on simulated owners (docs/measured.md): a lower one moves good settings.
CHANCE_PLAINLY_TOO_HIGH = 0.25


class Action(StrEnum):
    """What to do next."""

    STOP_RIDING = "stop riding"
    REDUCE_LOAD = "reduce the load"
    TYRES = "set the tyre pressures"
    READ_AGAIN = "read again"
    COUNT = "count the preload"
    START = "start at"
    MORE = "more preload"
    LESS = "less preload"
    DAMPING = "change the damping"
    RIDE_AGAIN = "ride again"
    REVIEW = "have spring and oil level reviewed"
    MEASURE_SAG = "measure rider sag"
    FOUND = "found"

    @property
    def is_an_end(self) -> bool:
        """Nothing is left to do with the adjuster."""
        return self in (Action.FOUND, Action.REVIEW, Action.REDUCE_LOAD)


@dataclass(frozen=True)
class Lack:
    """Something without which a setting is not called found.

    Attributes
    ----------
    words : str
        A sentence.
    action : Action
        What is done about it.
    """

    words: str
    action: Action = Action.RIDE_AGAIN


@dataclass(frozen=True)
class Step:
    """What the rules came to.

    Attributes
    ----------
    action : Action
    count : float or None
        The count to set, up from the soft end: today's where nothing is to be changed; None where none can be named.
    why : tuple of str
        Reasons, in sentences.
    done : str or None
        Why there is nothing more to do, if so.
    missing : tuple of Lack
        What a setting that looks right still lacks to be called found.
    notes : tuple of str
        What was felt, and what helps against it besides preload.
    damping : str or None
        The step of damping, where that is what is to be done.
    more : float
        Where the count is not known: so many steps beyond where it was.
    """

    action: Action
    count: float | None
    why: tuple[str, ...]
    done: str | None = None
    missing: tuple[Lack, ...] = ()
    notes: tuple[str, ...] = ()
    damping: str | None = None
    more: float = 0


def in_words(chance: float) -> str:
    """Say a chance in words.

    Examples
    --------
    >>> [in_words(chance) for chance in (0.01, 0.1, 0.26, 0.5, 0.72, 0.97)]
    ['fewer than 1 ride in 50', 'about 1 ride in 10', 'about 1 ride in 4', 'about 1 ride in 2', 'about 7 rides in 10', \
'nearly every ride']
    """
    if chance < 0.02:
        return "fewer than 1 ride in 50"
    if chance > 0.95:
        return "nearly every ride"
    if chance > 0.6:
        return f"about {math.floor(chance * 10 + 0.5)} rides in 10"
    return f"about 1 ride in {max(2, math.floor(1 / chance + 0.5))}"

"""The preload count for a load: where it starts before the first ride, and how sure a found one is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from suspension.springs.adjuster import Adjuster

# Ends of the interval behind a count: as sure as this, and as sure as 1 less this, that it is firm enough.
_SURE = 0.05


@dataclass(frozen=True)
class CountInterval:
    """Softest counts that are firm enough with 5 % and with 95 % probability; None where none is."""

    low: float | None
    high: float | None


def count_interval(counts: Sequence[float], certainty: Callable[[float], float]) -> CountInterval:
    """Find between which counts the softest one lies that meets the bumper in one ride of ten at most.

    Parameters
    ----------
    counts : sequence of float
        From the soft end on.
    certainty : callable
        How sure it is of a count that its chance is no more than allowed: `Severity.certainty_of`.
    """
    sure = [(count, certainty(count)) for count in counts]
    low, high = (next((count for count, one in sure if one >= wanted), None) for wanted in (_SURE, 1 - _SURE))
    return CountInterval(low, high)


def count_from_statics(
    count: float, added_load_n: float, preload_force_n_per_mm: float, adjuster: Adjuster
) -> float | None:
    """Give the first count for a load that was never ridden, from the count of one that was [derived].

    Added preload of dW/(sum of k MR) keeps the rider sag. To the firmer side: a quiet ride is no loss, a bottomed
    one is.

    Parameters
    ----------
    count : float
        Count that suits the load that was ridden, up from the soft end.
    added_load_n : float
        What the springs carry more now, N (negative for less).
    preload_force_n_per_mm : float
        What each mm of preload on all legs adds to the wheel force, N/mm: `wheel_rate.preload_force_per_mm`.
    adjuster : Adjuster

    Returns
    -------
    float or None
        Within the adjuster's range; None where a step's worth is not known.

    Examples
    --------
    14 kg more on one spring of 40 N/mm, MR 0.8, 1 mm a click: 4.29 clicks more than 6.

    >>> from suspension.springs.adjuster import AdjusterKind
    >>> count_from_statics(6, 14 * 9.80665, 40 * 0.8, Adjuster(AdjusterKind.CLICKS, 15, 1.0))
    11.0
    """
    now = adjuster.added_mm(count)
    if now is None:
        return None
    wanted = now + added_load_n / preload_force_n_per_mm
    reached = adjuster.first
    while (adjuster.added_mm(reached) or 0.0) < wanted - 1e-9:
        if adjuster.end is not None and reached + 1 > adjuster.end:
            return adjuster.end
        reached += 1
    return reached

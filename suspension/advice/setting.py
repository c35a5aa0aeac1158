"""The preload count for a load: where it starts before the first ride, and how sure a found one is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from suspension.springs.adjuster import Adjuster

# Ends of the interval behind a count: as sure as this, and as sure as 1 less this, that it is firm enough.
_SURE = 0.05
# Rounding of sums of floats, N.
_ROUNDING_N = 1e-6


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


def count_from_statics(load_n: float, force_n: Callable[[float], float], adjuster: Adjuster) -> float | None:
    """Give the first count for a load that was never ridden, from where one that was ridden stands [derived].

    The softest count whose springs carry the load there keeps the rider sag; of linear springs it adds
    dW/(sum of k MR) of preload. To the firmer side: a quiet ride is no loss, a bottomed one is.

    Parameters
    ----------
    load_n : float
        What the springs carry now, N.
    force_n : callable
        Force at the wheel, N, where the load that was ridden stands, from the preload over that at the soft end, mm.
    adjuster : Adjuster

    Returns
    -------
    float or None
        Within the adjuster's range; None where a step's worth is not known, or adds no force.

    Examples
    --------
    14 kg more on one spring of 40 N/mm, MR 0.8, 1 mm a click: 4.29 clicks more than 6.

    >>> from suspension.springs.adjuster import AdjusterKind
    >>> force = lambda added: 40 * 0.8 * (40 + added)
    >>> count_from_statics(force(6) + 14 * 9.80665, force, Adjuster(AdjusterKind.CLICKS, 15, 1.0))
    11.0
    """
    reached = adjuster.first
    added = adjuster.added_mm(reached)
    if added is None:
        return None
    carried = force_n(added)
    while carried < load_n - _ROUNDING_N:
        if adjuster.end is not None and reached + 1 > adjuster.end:
            return adjuster.end
        reached += 1
        more = force_n(adjuster.added_mm(reached) or 0.0)
        if more <= carried:
            return None
        carried = more
    return reached

"""Preload: how far a spring is already compressed at full extension. It never changes the spring's rate."""

from __future__ import annotations

from suspension.adjuster import Adjuster
from suspension.springs import Spring


def preload_mm(adjuster: Adjuster, count: float, at_soft_end_mm: float | None) -> float | None:
    """Preload at a count: d = d0 + N p, or as measured for each ramp position, mm.

    Parameters
    ----------
    adjuster : Adjuster
    count : float
        N, up from the soft end.
    at_soft_end_mm : float or None
        d0, preload with the adjuster at its soft end.

    Returns
    -------
    float or None
        None where d0 or a step's worth is not known: clicks remain clicks.
    """
    added = adjuster.added_mm(count)
    return None if added is None or at_soft_end_mm is None else at_soft_end_mm + added


def starting_force_n(spring: Spring, preload_mm: float) -> float:
    """Force of a preloaded spring at full extension, N: F0 = k d for a spring of one rate [handbook]."""
    return spring.force_n(preload_mm)

"""When a count is in doubt: how it is counted again, and what the result means."""

from __future__ import annotations

from suspension.adjuster import Adjuster, AdjusterKind, Confidence, Count, CountedFrom


def recount_steps(adjuster: Adjuster, target: float | None) -> tuple[str, ...]:
    """Tell how to count an adjuster again, and to go to a target if there is one.

    Parameters
    ----------
    adjuster : Adjuster
    target : float or None
        Count to end at, up from the soft end; None: back to where it was.
    """
    one = adjuster.kind.one
    end = adjuster.kind.place(target) if target is not None else "the count you found"
    return (
        f"Back the adjuster off gently towards soft, one {one} at a time, counting each, until it stops by "
        "itself. Do not force it.",
        "If your count matches the log, the logged setting was right. If not, the earlier setting is unknown: "
        "note it so, and do not build on readings taken at it.",
        f"Then wind up to {end}. Do the same on the other side, and write both down.",
    )


def recounted(logged: Count, counted: float, adjuster: Adjuster) -> Count:
    """Say what the setting before a recount was.

    Parameters
    ----------
    logged : Count
        As it stands in the log.
    counted : float
        Steps backed off until the soft end, as a count up from it.
    adjuster : Adjuster

    Returns
    -------
    Count
        Sure where both agree; else unknown, with no value: neither of the two is better.
    """
    adjuster.check(counted)
    from_soft = adjuster.from_soft(logged)
    # Half a step apart is another step; turns are counted in halves and quarters.
    tolerance = 0.125 if adjuster.kind is AdjusterKind.TURNS else 0.0
    if from_soft is not None and abs(from_soft - counted) <= tolerance:
        return Count(counted, CountedFrom.SOFT, Confidence.COUNTED)
    return Count(None, CountedFrom.SOFT, Confidence.UNKNOWN)

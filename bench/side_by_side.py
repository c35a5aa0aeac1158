"""Timing of two things in turn in one run, so that other load slows both."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Ratio:
    """Ratio of the times of two things.

    Attributes
    ----------
    median, low, high : float
        Of the ratios round by round; `low` and `high` are their quartiles.
    ours_s, theirs_s : float
        Median times.
    rounds : int
    """

    median: float
    low: float
    high: float
    ours_s: float
    theirs_s: float
    rounds: int

    def __str__(self) -> str:
        return (
            f"{self.median:.2f} times ({self.low:.2f} to {self.high:.2f}, {self.rounds} rounds; "
            f"{1e3 * self.ours_s:.0f} ms against {1e3 * self.theirs_s:.0f} ms)"
        )


def ratio_of(ours_s: list[float], theirs_s: list[float]) -> Ratio:
    """Summarise times that were taken in turn, round by round."""
    ratios = sorted(a / b for a, b in zip(ours_s, theirs_s, strict=True))
    low, _, high = statistics.quantiles(ratios, n=4) if len(ratios) > 1 else [ratios[0]] * 3
    return Ratio(
        statistics.median(ratios),
        low,
        high,
        statistics.median(ours_s),
        statistics.median(theirs_s),
        len(ratios),
    )


def compare(ours: Callable[[], object], theirs: Callable[[], object], rounds: int) -> Ratio:
    """Time two things in turn, each once a round, after a round that does not count.

    Parameters
    ----------
    ours, theirs : callable
    rounds : int
        The order changes from round to round.
    """
    ours(), theirs()
    times: tuple[list[float], list[float]] = ([], [])
    for k in range(rounds):
        for which in (0, 1) if k % 2 == 0 else (1, 0):
            start = time.perf_counter()
            (ours, theirs)[which]()
            times[which].append(time.perf_counter() - start)
    return ratio_of(*times)

"""Left against right over several rides: a difference that stays says more than that of one ride."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from suspension.quantities.quantity import COVERAGE_FACTOR, Quantity

# From so many rides on a difference is spoken of as lasting [a choice].
RIDES_NEEDED = 3


@dataclass(frozen=True)
class LegsOverTime:
    """What the differences of all rides come to.

    Attributes
    ----------
    mean_mm : Quantity
        Mean of left less right.
    lasting : bool
        The mean is beyond its own uncertainty, from three rides on.
    words : str
    """

    mean_mm: Quantity
    lasting: bool
    words: str


def legs_over_time(differences_mm: Sequence[Quantity]) -> LegsOverTime | None:
    """Average left less right over rides, oldest first; None without any.

    Parameters
    ----------
    differences_mm : sequence of Quantity
        Used stroke of the left leg less that of the right, a ride each, mm.

    Notes
    -----
    The standard uncertainty of the mean is the larger of that by the readings and that by the rides' own scatter,
    s/sqrt(n) (JCGM 100, 4.2.3).
    """
    count = len(differences_mm)
    if not count:
        return None
    values = [one.value for one in differences_mm]
    by_reading = math.sqrt(sum(one.sigma**2 for one in differences_mm)) / count
    by_scatter = stdev(values) / math.sqrt(count) if count > 1 else 0.0
    mean = Quantity(fmean(values), max(by_reading, by_scatter))
    lasting = count >= RIDES_NEEDED and abs(mean.value) > COVERAGE_FACTOR * mean.sigma
    rides = f"{count} ride{'' if count == 1 else 's'}"
    if lasting:
        deeper = "left" if mean.value > 0 else "right"
        words = (
            f"Over {rides} the {deeper} leg goes {abs(mean.value):.1f} mm deeper on average: compare the counts of "
            "both sides, their oil levels and springs, and look for binding."
        )
    else:
        words = f"Over {rides} no lasting difference between left and right."
    return LegsOverTime(mean, lasting, words)

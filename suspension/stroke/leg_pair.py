"""Both legs of one end: each is reported, the deeper one counts, and a real difference is flagged."""

from __future__ import annotations

import math
from dataclasses import dataclass

from suspension.quantities.quantity import COVERAGE_FACTOR, Bound, Quantity


@dataclass(frozen=True)
class LegComparison:
    """Left against right.

    Attributes
    ----------
    deeper_mm : Quantity
        The one that the verdict uses, mm.
    difference_mm : Quantity
        Left less right, mm.
    flagged : bool
        The legs differ by more than their uncertainty: binding, or a slipped marker.
    """

    deeper_mm: Quantity
    difference_mm: Quantity
    flagged: bool


def compare_legs(left: Quantity, right: Quantity) -> LegComparison:
    """Compare two legs' used strokes, mm.

    They are flagged where they differ by more than 2 sqrt(u_left^2 + u_right^2), which is 2 sqrt(2) u_c for
    equal uncertainties. A limit is compared only where it can decide: two legs that are both "at least" are never
    flagged, nor is one that is "at least" less than the other.
    """
    difference, sd = left.value - right.value, math.hypot(left.sigma, right.sigma)
    flagged = abs(difference) > COVERAGE_FACTOR * sd
    deeper, shallower = (left, right) if difference >= 0 else (right, left)
    if shallower.bound is Bound.AT_LEAST or deeper.bound is Bound.AT_MOST:
        flagged = False  # the truth may lie closer than the limits do
    if shallower.bound is Bound.AT_LEAST and deeper.bound is not Bound.AT_LEAST:
        deeper = shallower  # it may be deeper still: the open side decides
    return LegComparison(deeper, Quantity(difference, sd), flagged)

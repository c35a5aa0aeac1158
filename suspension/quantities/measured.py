"""A length and its standard uncertainty; what an estimate says when it is only a bound."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError

# Every interval that is shown is k = 2, about 95 % (JCGM 100, 6.3.3).
COVERAGE_FACTOR = 2.0


@dataclass(frozen=True)
class MeasuredLength:
    """A length with its standard uncertainty (k = 1), both mm.

    Raises
    ------
    SuspensionError
        A value that is not finite, or an uncertainty that is negative or not finite.
    """

    value_mm: float
    sd_mm: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.value_mm):
            raise SuspensionError("A length is not a finite number.", "Leave it out if it was not measured.")
        if not math.isfinite(self.sd_mm) or self.sd_mm < 0:
            raise SuspensionError(
                f"The uncertainty of the length {self.value_mm:.1f} mm is {self.sd_mm}.",
                "Give the standard uncertainty in mm, zero or more.",
            )

    @property
    def u95_mm(self) -> float:
        """Expanded uncertainty (k = 2), mm."""
        return COVERAGE_FACTOR * self.sd_mm


class Bound(StrEnum):
    """What is known of the true value: the value itself, or only a limit to it."""

    EXACT = "exact"
    AT_LEAST = "at least"
    AT_MOST = "at most"

    @property
    def opposite(self) -> Bound:
        """The bound on what is left of a limit: at most so much where at least so much is used."""
        return {Bound.AT_LEAST: Bound.AT_MOST, Bound.AT_MOST: Bound.AT_LEAST}.get(self, self)


@dataclass(frozen=True)
class Estimate:
    """A result: value and standard uncertainty (k = 1) in the unit that the field's name gives.

    For a censored reading `value` is the limit, `sd` the limit's uncertainty, and `bound` says on which side
    the truth lies.
    """

    value: float
    sd: float
    bound: Bound = Bound.EXACT

    @property
    def u95(self) -> float:
        """Expanded uncertainty (k = 2), in the unit of the value."""
        return COVERAGE_FACTOR * self.sd

    @property
    def at_least(self) -> bool:
        """Right-censored: the truth is this or more."""
        return self.bound is Bound.AT_LEAST

    @property
    def at_most(self) -> bool:
        """Left-censored: the truth is this or less."""
        return self.bound is Bound.AT_MOST

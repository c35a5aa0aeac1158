"""One value for every number that was measured or worked out: its standard uncertainty, and what bounds it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from suspension.errors import SuspensionError

# Every interval that is shown is k = 2, about 95 % (JCGM 100, 6.3.3).
COVERAGE_FACTOR = 2.0


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
class Quantity:
    """A value with its standard uncertainty, in the unit that the field's name gives (`exposed_mm`, `load_n`).

    Attributes
    ----------
    value : float
        For a censored reading the limit.
    sigma : float
        Standard uncertainty (k = 1) of the value, or of the limit.
    bound : Bound
        On which side of a limit the truth lies.

    Raises
    ------
    SuspensionError
        A value that is not finite, or an uncertainty that is negative or not finite.

    Examples
    --------
    >>> Quantity(92.0, 0.25).u95
    0.5
    >>> Quantity.from_u95(92.0, 0.5)
    Quantity(value=92.0, sigma=0.25, bound=<Bound.EXACT: 'exact'>)
    """

    value: float
    sigma: float
    bound: Bound = Bound.EXACT

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise SuspensionError("A value is not a finite number.", "Leave it out if it was not measured.")
        if not math.isfinite(self.sigma) or self.sigma < 0:
            raise SuspensionError(
                f"The standard uncertainty of {self.value:.4g} is {self.sigma}.",
                "Give it in the unit of the value, zero or more.",
            )

    @classmethod
    def from_u95(cls, value: float, u95: float, bound: Bound = Bound.EXACT) -> Quantity:
        """Take a value and its expanded uncertainty (k = 2), as files, tables and screens give them."""
        return cls(value, u95 / COVERAGE_FACTOR, bound)

    @property
    def u95(self) -> float:
        """Expanded uncertainty (k = 2), in the unit of the value."""
        return COVERAGE_FACTOR * self.sigma

    @property
    def at_least(self) -> bool:
        """Right-censored: the truth is this or more."""
        return self.bound is Bound.AT_LEAST

    @property
    def at_most(self) -> bool:
        """Left-censored: the truth is this or less."""
        return self.bound is Bound.AT_MOST

"""The three lengths read on a shaft, and whether they close."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from suspension.errors import StrokeError, SuspensionError
from suspension.quantities.quantity import Quantity

# Separately measured lengths that miss d + gn = E by more than this, mm, are not of one shaft at one time:
# the trade's limit for a reading by rule [common practice, no source].
CLOSURE_LIMIT_MM = 2.0

Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class ShaftLengths:
    """Lengths along one shaft at one time; any may be missing.

    Attributes
    ----------
    exposed_mm : Quantity or None
        Seal to far end, E, mm.
    marker_mm : Quantity or None
        Seal to the marker's seal-side edge, d, mm.
    remaining_mm : Quantity or None
        That edge to the far end, gn, mm.
    covariance_mm2 : tuple of 3 tuples of 3 floats, or None
        Of (E, d, gn) from one photo, mm squared; entries of missing lengths do not count and may be NaN. Only
        the correlations are taken from it; the sizes are the lengths' own standard uncertainties. None: the
        lengths were measured one by one and share no error.

    Raises
    ------
    StrokeError
        d + gn misses E by more than 2 mm.
    SuspensionError
        A covariance of another shape.
    """

    exposed_mm: Quantity | None = None
    marker_mm: Quantity | None = None
    remaining_mm: Quantity | None = None
    covariance_mm2: Matrix | None = None

    def __post_init__(self) -> None:
        if self.covariance_mm2 is not None and [len(row) for row in self.covariance_mm2] != [3, 3, 3]:
            raise SuspensionError(
                "The covariance of the lengths is not 3 by 3.", "Give it for (exposed, marker, rest)."
            )
        gap_mm = self.closure_mm
        if gap_mm is not None and abs(gap_mm) > CLOSURE_LIMIT_MM:
            raise StrokeError(
                f"The lengths do not add up: seal to marker and marker to far end make {abs(gap_mm):.1f} "
                f"mm {'more' if gap_mm > 0 else 'less'} than seal to far end.",
                "Measure all three again without moving the bike, or take them from one photo.",
            )

    @classmethod
    def from_photo(
        cls,
        exposed_mm: Quantity | None,
        marker_mm: Quantity | None,
        remaining_mm: Quantity | None,
        covariance_mm2: Iterable[Iterable[float]] | None,
    ) -> ShaftLengths:
        """Take lengths and covariance, in any nesting (an ndarray of shape (3, 3) too), from one photo."""
        rows = (
            None if covariance_mm2 is None else tuple(tuple(float(x) for x in row) for row in covariance_mm2)
        )
        return cls(exposed_mm, marker_mm, remaining_mm, rows)

    @property
    def closure_mm(self) -> float | None:
        """d + gn - E, mm; None where one of them is missing. From one photo it is 0 by construction."""
        if self.exposed_mm is None or self.marker_mm is None or self.remaining_mm is None:
            return None
        return self.marker_mm.value + self.remaining_mm.value - self.exposed_mm.value

    def covariance_of(self, i: int, j: int) -> float:
        """Covariance of two of (E, d, gn), mm squared, with the lengths' own standard uncertainties."""
        first, second = (
            (self.exposed_mm, self.marker_mm, self.remaining_mm)[i],
            (self.exposed_mm, self.marker_mm, self.remaining_mm)[j],
        )
        if first is None or second is None:
            return 0.0
        if i == j:
            return first.sigma**2
        matrix = self.covariance_mm2
        if matrix is None or not matrix[i][i] > 0 or not matrix[j][j] > 0:
            return 0.0
        return matrix[i][j] / math.sqrt(matrix[i][i] * matrix[j][j]) * first.sigma * second.sigma

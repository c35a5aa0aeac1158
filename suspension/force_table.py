"""A measured force over a compression: a progressive spring, or a rubber bumper."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from dataclasses import dataclass

from suspension.errors import SuspensionError


@dataclass(frozen=True)
class ForceTable:
    """Force that rises with compression, linear between its points.

    Attributes
    ----------
    compressions_mm : tuple of float
        Rising, the first 0.
    forces_n : tuple of float
        Rising, the first 0.

    Raises
    ------
    SuspensionError
        Fewer than two points, lengths that differ, or columns that do not rise from 0.
    """

    compressions_mm: tuple[float, ...]
    forces_n: tuple[float, ...]

    def __post_init__(self) -> None:
        columns = (self.compressions_mm, self.forces_n)
        rising = all(a < b for column in columns for a, b in itertools.pairwise(column))
        finite = all(math.isfinite(x) for column in columns for x in column)
        same_length = len(self.forces_n) == len(self.compressions_mm) >= 2
        if not same_length or not finite or not rising or any(column[0] != 0 for column in columns):
            raise SuspensionError(
                "The table of force over compression does not rise from 0 mm and 0 N.",
                "Give compression and force in pairs, at least two, each larger than the one before.",
            )

    def force_n(self, compression_mm: float) -> float:
        """Force at a compression, N; 0 for none.

        Raises
        ------
        SuspensionError
            A compression beyond the table's end.
        """
        if compression_mm <= 0:
            return 0.0
        i = self._segment(compression_mm)
        return self.forces_n[i] + self._rate(i) * (compression_mm - self.compressions_mm[i])

    def rate_n_per_mm(self, compression_mm: float) -> float:
        """Rate at a compression, N/mm; 0 before it is met; at a point, that of the piece that follows."""
        return 0.0 if compression_mm < 0 else self._rate(self._segment(compression_mm))

    def _segment(self, compression_mm: float) -> int:
        end = self.compressions_mm[-1]
        if compression_mm > end + 1e-9 or not math.isfinite(compression_mm):
            raise SuspensionError(
                f"The force at {compression_mm:.1f} mm is not known: its table ends at {end:.1f} mm.",
                "Measure it to the end of the stroke; nothing is made up beyond.",
            )
        return min(bisect_right(self.compressions_mm, compression_mm) - 1, len(self.compressions_mm) - 2)

    def _rate(self, i: int) -> float:
        run = self.compressions_mm[i + 1] - self.compressions_mm[i]
        return (self.forces_n[i + 1] - self.forces_n[i]) / run

"""Springs: rate from the wire's dimensions, springs side by side and end to end, dual-rate, progressive.

Preload moves where a spring starts, never its rate: see `preload`.
"""

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


# Outside these the formula for a coil's rate does not hold well, or no such spring is wound [handbook].
INDEX_RANGE = (4.0, 12.0)
LEAST_ACTIVE_COILS = 3.0


@dataclass(frozen=True)
class LinearSpring:
    """A spring of one rate, N/mm."""

    rate: float

    def __post_init__(self) -> None:
        _check_rates(self.rate)

    def force_n(self, compression_mm: float) -> float:
        """Force at a compression, N; 0 for none."""
        return self.rate * max(0.0, compression_mm)

    def rate_n_per_mm(self, compression_mm: float) -> float:
        """Rate at a compression, N/mm."""
        return self.rate if compression_mm >= 0 else 0.0


@dataclass(frozen=True)
class DualRateSpring:
    """Two springs end to end, until the soft one binds and the hard one works alone.

    Attributes
    ----------
    soft, hard : float
        Rates, N/mm.
    soft_binds_mm : float
        Compression of the soft spring by itself at which its coils touch, mm.
    """

    soft: float
    hard: float
    soft_binds_mm: float

    def __post_init__(self) -> None:
        _check_rates(self.soft, self.hard)
        if not self.soft_binds_mm > 0 or self.soft > self.hard:
            raise SuspensionError(
                "A dual-rate spring needs a soft and a harder part, and how far the soft one goes to bind.",
                "Give the softer rate first, and its compression at binding in mm.",
            )

    @property
    def changes_mm(self) -> float:
        """Compression of both together at which the rate changes, mm."""
        return self.soft * self.soft_binds_mm / series_rate(self.soft, self.hard)

    def force_n(self, compression_mm: float) -> float:
        """Force at a compression, N; 0 for none."""
        before = min(max(0.0, compression_mm), self.changes_mm)
        after = max(0.0, compression_mm - self.changes_mm)
        return series_rate(self.soft, self.hard) * before + self.hard * after

    def rate_n_per_mm(self, compression_mm: float) -> float:
        """Rate at a compression, N/mm; from the change on, the hard spring's."""
        if compression_mm < 0:
            return 0.0
        return self.hard if compression_mm >= self.changes_mm else series_rate(self.soft, self.hard)


# A progressive spring is a measured table of force over compression.
Spring = LinearSpring | DualRateSpring | ForceTable


@dataclass(frozen=True)
class CoilRate:
    """A coil spring's rate from its dimensions.

    Attributes
    ----------
    rate : float
        N/mm.
    index : float
        Mean diameter over wire diameter.
    remarks : tuple of str
        Why the rate is uncertain.
    """

    rate: float
    index: float
    remarks: tuple[str, ...]


def coil_rate(
    shear_modulus_n_per_mm2: float, wire_mm: float, mean_diameter_mm: float, active_coils: float
) -> CoilRate:
    """Rate of a coil spring: k = G d^4/(8 D^3 Na) [handbook].

    Parameters
    ----------
    shear_modulus_n_per_mm2 : float
        G of the wire; a value of the maker's, none is assumed.
    wire_mm : float
        d, diameter of the wire.
    mean_diameter_mm : float
        D, the coil's mean diameter, not the outside: see `mean_diameter_mm`.
    active_coils : float
        Na, coils that work; the closed ends do not.

    Raises
    ------
    SuspensionError
        A dimension that is not positive, or a coil no wider than its wire.
    """
    dimensions = (shear_modulus_n_per_mm2, wire_mm, mean_diameter_mm, active_coils)
    if not all(math.isfinite(x) and x > 0 for x in dimensions) or mean_diameter_mm <= wire_mm:
        raise SuspensionError(
            "These are not the dimensions of a coil spring.",
            "Give wire diameter, mean coil diameter (outside less one wire) and active coils, all above zero.",
        )
    rate = shear_modulus_n_per_mm2 * wire_mm**4 / (8 * mean_diameter_mm**3 * active_coils)
    index = mean_diameter_mm / wire_mm
    remarks = []
    if not INDEX_RANGE[0] <= index <= INDEX_RANGE[1]:
        remarks.append(
            f"Mean over wire diameter is {index:.1f}; the formula is good for {INDEX_RANGE[0]:g} to "
            f"{INDEX_RANGE[1]:g}. Was the outside diameter used as the mean?"
        )
    if active_coils < LEAST_ACTIVE_COILS:
        remarks.append(f"Under {LEAST_ACTIVE_COILS:g} active coils the formula is not good.")
    return CoilRate(rate, index, tuple(remarks))


def mean_diameter_mm(outside_mm: float, wire_mm: float) -> float:
    """Mean diameter of a coil: outside less one wire, mm."""
    if not 0 < 2 * wire_mm < outside_mm:
        raise SuspensionError(
            "The wire is too thick for this coil.", "Measure the coil's outside and the wire."
        )
    return outside_mm - wire_mm


def series_rate(*rates: float) -> float:
    """Rate of springs end to end: 1/sum(1/k), N/mm [handbook].

    >>> round(series_rate(10, 40), 9)
    8.0
    """
    _check_rates(*rates)
    return 1 / sum(1 / rate for rate in rates)


def _check_rates(*rates: float) -> None:
    if not rates or not all(math.isfinite(rate) and rate > 0 for rate in rates):
        raise SuspensionError("A spring rate is not a number above zero.", "Give it in N/mm, as 9.0 N/mm.")

"""First-order propagation of uncertainty with covariance (JCGM 100, 5.2.2), by the package `uncertainties`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from suspension.errors import SuspensionError

if TYPE_CHECKING:
    from uncertainties import UFloat

# How far below zero rounding may push an eigenvalue, relative to the largest: days' files and logbooks keep mm² to
# six digits, which moves an eigenvalue of three lengths by at most 3 x 0.5e-6 (Weyl's bound by the rows' sum).
_ROUNDING = 2e-6


def joint_variables(values: Sequence[float], covariance: Sequence[Sequence[float]]) -> tuple[UFloat, ...]:
    """Make variables that carry their joint uncertainty through sums, products and ratios.

    Parameters
    ----------
    values : sequence of n floats
    covariance : sequence of n sequences of n floats
        In the units of the values, squared.

    Returns
    -------
    tuple of n uncertainties.UFloat

    Raises
    ------
    SuspensionError
        A covariance that no set of quantities can have (not symmetric, or with a negative variance in some
        direction).

    Examples
    --------
    >>> a, b = joint_variables((2.0, 1.0), ((0.04, 0.04), (0.04, 0.04)))
    >>> value_and_sigma(a - b)
    (1.0, 0.0)
    """
    import numpy as np  # both take a tenth of a second that `strandline --help` does without
    from uncertainties import correlated_values

    matrix = np.array(covariance, dtype=float)
    possible = bool(np.all(np.isfinite(matrix)) and np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-12))
    if possible:
        eigenvalues = np.linalg.eigvalsh(matrix)
        possible = bool(eigenvalues[0] >= -_ROUNDING * max(1.0, eigenvalues[-1]))
    if not possible:
        raise SuspensionError(
            "The uncertainties and their correlations do not fit together.",
            "Use uncertainties and covariance from one and the same reading; a shared scale cannot be "
            "more uncertain than the length that it scales.",
        )
    return tuple(correlated_values(values, matrix))


def value_and_sigma(result: UFloat) -> tuple[float, float]:
    """Take the value and standard uncertainty of a result."""
    return float(result.nominal_value), float(result.std_dev)

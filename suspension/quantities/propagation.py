"""First-order propagation of uncertainty with covariance (JCGM 100, 5.2.2), over named inputs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from suspension.errors import SuspensionError

# How far below zero rounding may push an eigenvalue, relative to the largest.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class JointInputs:
    """Input quantities with their joint covariance.

    Attributes
    ----------
    names : tuple of str, length n
    values : tuple of float, length n
    covariance : tuple of n tuples of n floats
        In the units of the values, squared.

    Raises
    ------
    SuspensionError
        A covariance that no set of quantities can have (not symmetric, or with a negative variance in some
        direction).
    """

    names: tuple[str, ...]
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        import numpy as np  # a tenth of a second that `strandline --help` does without

        matrix = np.array(self.covariance, dtype=float).reshape(len(self.names), len(self.names))
        eigenvalues = (
            np.linalg.eigvalsh(matrix) if matrix.size and np.all(np.isfinite(matrix)) else np.zeros(1)
        )
        if (
            not np.all(np.isfinite(matrix))
            or not np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-12)
            or eigenvalues[0] < -_ROUNDING * max(1.0, eigenvalues[-1])
        ):
            raise SuspensionError(
                "The stated uncertainties and their correlations do not fit together.",
                "Use uncertainties and covariance from one and the same reading; a shared scale cannot be "
                "more uncertain than the length that it scales.",
            )

    def has(self, *names: str) -> bool:
        """Whether all of these inputs are known."""
        return all(name in self.names for name in names)

    def value(self, name: str) -> float:
        """Value of one input."""
        return self.values[self.names.index(name)]

    def sd_along(self, gradient: Mapping[str, float]) -> float:
        """Standard uncertainty of a result with these partial derivatives: sqrt(g' C g)."""
        import numpy as np

        g = np.array([gradient.get(name, 0.0) for name in self.names])
        return math.sqrt(max(0.0, float(g @ np.array(self.covariance) @ g)))

    def linear(self, coefficients: Mapping[str, float]) -> tuple[float, float]:
        """Value and standard uncertainty of a sum of inputs times coefficients."""
        value = sum(factor * self.value(name) for name, factor in coefficients.items())
        return value, self.sd_along(coefficients)

    def ratio(self, top: Mapping[str, float], bottom: Mapping[str, float]) -> tuple[float, float]:
        """Value and standard uncertainty of one sum of inputs over another, with what they share."""
        numerator, _ = self.linear(top)
        denominator, _ = self.linear(bottom)
        quotient = numerator / denominator
        gradient = {
            name: (top.get(name, 0.0) - quotient * bottom.get(name, 0.0)) / denominator
            for name in {*top, *bottom}
        }
        return quotient, self.sd_along(gradient)

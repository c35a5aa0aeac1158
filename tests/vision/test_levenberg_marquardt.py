"""The search for least squares, against SciPy's MINPACK on problems whose minima are published."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import least_squares

from vision.adjustment.levenberg_marquardt import Tolerance, minimum

FINE = Tolerance(gain=1e-12, step=1e-12, evaluations=400)


@dataclass(frozen=True)
class At:
    residuals: np.ndarray
    jacobian: np.ndarray


@dataclass(frozen=True)
class Problem:
    """From More, Garbow and Hillstrom, Testing unconstrained optimization software (1981)."""

    residuals: Callable[[np.ndarray], np.ndarray]
    jacobian: Callable[[np.ndarray], np.ndarray]
    start: tuple[float, ...]
    least_squares: float


def _bard(x: np.ndarray) -> np.ndarray:
    y = np.array([0.14, 0.18, 0.22, 0.25, 0.29, 0.32, 0.35, 0.39, 0.37, 0.58, 0.73, 0.96, 1.34, 2.10, 4.39])
    u = np.arange(1, 16)
    v = 16 - u
    return np.asarray(y - (x[0] + u / (v * x[1] + np.minimum(u, v) * x[2])))


def _bard_rates(x: np.ndarray) -> np.ndarray:
    u = np.arange(1, 16)
    v = 16 - u
    w = np.minimum(u, v)
    below = (v * x[1] + w * x[2]) ** 2
    return np.stack([-np.ones(15), u * v / below, u * w / below], axis=1)


PROBLEMS = {
    "Rosenbrock": Problem(
        lambda x: np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]]),
        lambda x: np.array([[-20 * x[0], 10.0], [-1.0, 0.0]]),
        (-1.2, 1.0),
        0.0,
    ),
    "Freudenstein and Roth": Problem(
        lambda x: np.array(
            [-13 + x[0] + ((5 - x[1]) * x[1] - 2) * x[1], -29 + x[0] + ((x[1] + 1) * x[1] - 14) * x[1]]
        ),
        lambda x: np.array([[1.0, (10 - 3 * x[1]) * x[1] - 2], [1.0, (3 * x[1] + 2) * x[1] - 14]]),
        (0.5, -2.0),
        48.9842,
    ),
    "Bard": Problem(_bard, _bard_rates, (1.0, 1.0, 1.0), 8.21487e-3),
}


@pytest.mark.parametrize("name", PROBLEMS)
@pytest.mark.parametrize("units", [1.0, 0.1])
def test_the_published_minimum_is_found_where_minpack_finds_it(name: str, units: float) -> None:
    problem = PROBLEMS[name]
    start, scale = np.array(problem.start), np.full(len(problem.start), units)
    evaluated = []

    def evaluate(x: np.ndarray) -> At:
        evaluated.append(x)
        return At(problem.residuals(x), problem.jacobian(x))

    found = minimum(evaluate, start, scale, FINE).parameters
    theirs = least_squares(
        problem.residuals, start, problem.jacobian, method="lm", x_scale=scale, xtol=1e-12, ftol=1e-12
    )
    assert np.sum(problem.residuals(found) ** 2) == pytest.approx(problem.least_squares, rel=1e-5, abs=1e-12)
    np.testing.assert_allclose(found, theirs.x, rtol=1e-5)
    assert len(evaluated) <= 1.3 * theirs.nfev


def test_what_nothing_determines_stays_where_it_was() -> None:
    """A shaft whose silhouettes were not found has parameters without observations."""
    found = minimum(
        lambda x: At(np.array([x[0] - 3.0, 2 * (x[0] - 3.0)]), np.array([[1.0, 0.0], [2.0, 0.0]])),
        np.array([0.0, 7.0]),
        np.ones(2),
        FINE,
    )
    np.testing.assert_allclose(found.parameters, [3.0, 7.0], atol=1e-9)


def test_a_linear_problem_takes_one_step() -> None:
    """Where nothing more is expected of the next one, it is not tried."""
    counted = []
    matrix, values = np.array([[2.0, 1.0], [1.0, 3.0], [0.0, 1.0]]), np.array([3.0, 4.0, 2.0])

    def evaluate(x: np.ndarray) -> At:
        counted.append(x)
        return At(matrix @ x - values, matrix)

    found = minimum(
        evaluate, np.array([5.0, 5.0]), np.ones(2), Tolerance(gain=1e-6, step=1e-8, evaluations=60)
    )
    np.testing.assert_allclose(found.parameters, np.linalg.lstsq(matrix, values, rcond=None)[0], atol=1e-9)
    assert len(counted) == 2

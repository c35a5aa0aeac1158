"""Least squares by Levenberg and Marquardt's method, as MINPACK's `lmder` takes its steps (More 1978).

SciPy has the same method (`least_squares` with "lm"). It takes 4.8 ms a solve where this takes 2.8 (178 evaluations for
132 over 46 solves of four photos), 12 ms of a reading; loading its optimisers takes 0.37 s of processor time and 50 MB
[measured]. Here residuals and derivatives come from one evaluation, and the last step, from which no more than the
tolerance is expected, is taken without one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

import numpy as np

# Initial length of a step, in units of the scaled parameters (MINPACK's `factor`).
FIRST_STEP = 100.0
# Share of the expected gain from which a step is taken; below the second the next one is shorter, from the third on
# it may be longer (More 1978).
LEAST_GAIN, POOR_GAIN, GOOD_GAIN = 1e-4, 0.25, 0.75
# Most that a step is made shorter at a time; from so many times the sum of squares on it is, without looking closer.
MOST_SHRINK, WORST_TIMES = 0.1, 100.0
# The length of a damped step may differ from what is allowed by this share.
LENGTH_TOLERANCE = 0.1
# Relative to the largest diagonal element of the scaled normal matrix: keeps what nothing determines where it is.
_LEAST_DAMPING = 1e-15


class Evaluation(Protocol):
    """What is known at some parameters: residuals, shape (m,), and their derivatives, shape (m, p)."""

    @property
    def residuals(self) -> np.ndarray:
        """Residuals."""

    @property
    def jacobian(self) -> np.ndarray:
        """Their derivatives."""


E = TypeVar("E", bound=Evaluation)


@dataclass(frozen=True)
class Minimum(Generic[E]):
    """Where the search ended.

    Attributes
    ----------
    parameters : ndarray of shape (p,)
    last : Evaluation
        There, or at the point from which the last step, within the tolerance, was taken.
    """

    parameters: np.ndarray
    last: E


@dataclass(frozen=True)
class Tolerance:
    """When the search ends.

    Attributes
    ----------
    gain : float
        Expected and found decrease of the sum of squares, relative to it.
    step : float
        Allowed length of a step relative to the scaled parameters'.
    evaluations : int
        At the most.
    """

    gain: float
    step: float
    evaluations: int


def minimum(
    evaluate: Callable[[np.ndarray], E], start: np.ndarray, scale: np.ndarray, tolerance: Tolerance
) -> Minimum[E]:
    """Find the parameters that minimise a sum of squares.

    Parameters
    ----------
    evaluate : callable
        Evaluates residuals and derivatives at some parameters.
    start : ndarray of shape (p,)
    scale : ndarray of shape (p,)
        Units in which the parameters are compared.
    tolerance : Tolerance
    """
    at, evaluations = start / scale, 1
    here = evaluate(start)
    squares = _squares(here)
    allowed, damping = FIRST_STEP * (float(np.linalg.norm(at)) or 1.0), 0.0
    first, system = True, _System(here, scale)
    while True:
        step, damping = system.step(allowed, damping)
        length = float(np.linalg.norm(step))
        if first:
            allowed, first = min(allowed, length), False
        # Decrease of the sum of squares if the problem were linear, and how steeply it begins, relative to it.
        slope = float(step @ system.gradient) / squares
        expected = -2 * slope - float(step @ system.normal @ step) / squares
        if damping == 0.0 and expected <= tolerance.gain:
            return Minimum((at + step) * scale, here)
        if evaluations >= tolerance.evaluations:
            return Minimum(at * scale, here)
        there = evaluate((at + step) * scale)
        evaluations += 1
        times = _squares(there) / squares
        found = 1 - times if times < WORST_TIMES else -1.0
        gain = found / expected if expected > 0 else 0.0
        if gain <= POOR_GAIN:
            shrink = 0.5 if found >= 0 else 0.5 * slope / (slope + 0.5 * found)
            shrink = max(shrink, MOST_SHRINK) if times < WORST_TIMES else MOST_SHRINK
            allowed, damping = shrink * min(allowed, length / MOST_SHRINK), damping / shrink
        elif damping == 0.0 or gain >= GOOD_GAIN:
            allowed, damping = 2 * length, 0.5 * damping
        if gain >= LEAST_GAIN:
            at, here, squares = at + step, there, squares * times
            system = _System(here, scale)
        small = max(abs(found), expected) <= tolerance.gain and gain <= 2
        if small or allowed <= tolerance.step * float(np.linalg.norm(at)):
            return Minimum(at * scale, here)


def _squares(evaluation: Evaluation) -> float:
    """Sum of squares; a little more than 0, by which it is divided."""
    return float(evaluation.residuals @ evaluation.residuals) + 1e-300


class _System:
    """Normal equations at one point, in scaled parameters."""

    def __init__(self, evaluation: Evaluation, scale: np.ndarray) -> None:
        jacobian = evaluation.jacobian * scale
        self.normal, self.gradient = jacobian.T @ jacobian, jacobian.T @ evaluation.residuals
        self._damped: tuple[np.ndarray, np.ndarray, np.ndarray] | None = None

    def step(self, allowed: float, damping: float) -> tuple[np.ndarray, float]:
        """Take the Gauss-Newton step, or the damped one of the allowed length where that is too long."""
        if damping == 0.0 or self._damped is None:
            least = _LEAST_DAMPING * max(float(self.normal.diagonal().max()), 1e-300)
            full = -np.linalg.solve(self.normal + least * np.eye(len(self.normal)), self.gradient)
            if np.linalg.norm(full) <= (1 + LENGTH_TOLERANCE) * allowed:
                return full, 0.0
        if self._damped is None:
            values, vectors = np.linalg.eigh(self.normal)
            self._damped = np.maximum(values, 0.0), vectors, vectors.T @ self.gradient
        values, vectors, along = self._damped
        # Newton's method for the damping at which the step is as long as allowed (Hebden; More 1978, 5).
        damping = damping or 1e-3 * float(np.linalg.norm(self.gradient)) / allowed
        for _ in range(30):
            parts = along / (values + damping)
            length = float(np.linalg.norm(parts))
            if abs(length - allowed) <= LENGTH_TOLERANCE * allowed:
                break
            rate = float(parts**2 @ (1 / (values + damping))) / length
            damping = max(damping + (length / allowed - 1) * length / rate, 1e-3 * damping)
        return -(vectors @ (along / (values + damping))), damping

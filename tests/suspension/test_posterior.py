"""Bayesian update with exact and censored runs: closed forms, a brute-force grid, and scipy.

[D] derived; [S] JCGM 100 (GUM).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from suspension.advice.censored import log_likelihood
from suspension.advice.posterior import Mixture, update
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity

QUICK = settings(max_examples=25, deadline=None)
AT_LEAST, AT_MOST = Bound.AT_LEAST, Bound.AT_MOST


def test_check_value() -> None:
    """[D] Prior -1 +- 0.3, one change of 2 mm of preload, observed -1.2 mm, sd 3 a run (difference 3 sqrt 2)
    -> -0.992 +- 0.297.
    """
    sd = 3 * math.sqrt(2)
    found = update(np.array([-1.0]), np.array([[0.09]]), np.array([[2.0]]), (Quantity(-1.2, 0.0),), (sd,))
    assert found.mean[0] == pytest.approx(-0.992, abs=5e-4)
    assert math.sqrt(found.covariance[0, 0]) == pytest.approx(0.297, abs=5e-4)


def test_check_value_with_both_runs_and_an_unknown_route() -> None:
    """[D] The same from the two runs themselves, a_route unknown: their difference is all that counts."""
    runs = (Quantity(70.0, 0.0), Quantity(68.8, 0.0))
    found = update(np.array([70.0, -1.0]), np.diag([1e8, 0.09]), np.array([[1, 0], [1, 2.0]]), runs, (3.0,))
    assert found.mean[1] == pytest.approx(-0.992, abs=5e-4)
    assert math.sqrt(found.covariance[1, 1]) == pytest.approx(0.297, abs=5e-4)


def test_gum_h3_calibration_line() -> None:
    """[S] JCGM 100:2008, H.3, with no prior belief: intercept -0.1712(29), slope 0.00218(67), r -0.930, s 0.0035;
    b(30) = -0.1494(41).
    """
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = np.array([-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]) / 1000
    designs = np.column_stack([np.ones(11), t - 20])
    misses = b - designs @ np.linalg.lstsq(designs, b, rcond=None)[0]
    s = math.sqrt(float(misses @ misses) / 9)
    assert s == pytest.approx(0.0035, abs=5e-5)
    runs = tuple(Quantity(float(x), 0.0) for x in b)
    found = update(np.zeros(2), np.eye(2) * 1e2, designs, runs, (s,))
    sds = np.sqrt(np.diag(found.covariance))
    assert found.mean == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert sds == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert found.covariance[0, 1] / sds.prod() == pytest.approx(-0.930, abs=5e-4)
    at_30 = found.mixture(np.array([1.0, 10.0]), with_scatter=False).estimate
    assert at_30.value == pytest.approx(-0.1494, abs=5e-5) and at_30.sigma == pytest.approx(0.0041, abs=5e-5)


# The likelihood of a limit


def test_likelihood_of_limits_against_scipy() -> None:
    """[D] At least: 1 - Phi((limit - mu)/sd). At most: Phi. scipy.stats.norm is the general library."""
    mean = np.linspace(40, 110, 15)
    sd = math.hypot(4, 0.5)
    right = log_likelihood(Quantity(77.5, 0.5, AT_LEAST), mean, 4)
    assert right == pytest.approx(stats.norm.logsf(77.5, mean, sd))
    left = log_likelihood(Quantity(30, 0.5, AT_MOST), mean, 4)
    assert left == pytest.approx(stats.norm.logcdf(30, mean, sd))
    assert log_likelihood(Quantity(60, 0.5), mean, 4) == pytest.approx(stats.norm.logpdf(60, mean, sd))
    with pytest.raises(SuspensionError):
        log_likelihood(Quantity(60, 0.5), mean, 0)


# Against a brute-force grid

PRIOR_MEAN = np.array([75.0, -1.0, 0.06])
PRIOR_SD = np.array([15.0, 0.3, 0.024])
DESIGNS = np.array([[1, 0, 0], [1, 1.0, 0], [1, 2.0, 0], [1, 2.0, 150.0], [1, 3.0, 150.0]], float)
READINGS = (
    Quantity(77.5, 0.4, AT_LEAST),
    Quantity(77.5, 0.4, AT_LEAST),
    Quantity(74.0, 0.5),
    Quantity(77.5, 0.4, AT_LEAST),
    Quantity(30.0, 0.4, AT_MOST),
)
ASKED = np.array([1.0, 4.0, 60.0])


def brute_force(
    which: tuple[int, ...], sds: tuple[float, ...], with_scatter: bool = True
) -> tuple[float, float, dict[float, float]]:
    """Sum prior times likelihood over a plain grid of (a, B, G) and scatter; nothing of the project in it."""
    axes = [
        np.linspace(m - 6 * s, m + 6 * s, n)
        for m, s, n in zip(PRIOR_MEAN, PRIOR_SD, (241, 41, 41), strict=True)
    ]
    a, b, g = np.meshgrid(*axes, indexing="ij")
    answers = []
    for sd in sds:
        log = sum(stats.norm.logpdf(x, m, s) for x, m, s in zip((a, b, g), PRIOR_MEAN, PRIOR_SD, strict=True))
        for i in which:
            mean, spread = a + DESIGNS[i, 1] * b + DESIGNS[i, 2] * g, math.hypot(sd, READINGS[i].sigma)
            if READINGS[i].bound is AT_LEAST:
                log = log + stats.norm.logsf(READINGS[i].value, mean, spread)
            elif READINGS[i].bound is AT_MOST:
                log = log + stats.norm.logcdf(READINGS[i].value, mean, spread)
            else:
                log = log + stats.norm.logpdf(READINGS[i].value, mean, spread)
        answers.append(log)
    top = max(float(log.max()) for log in answers)
    weights = [np.exp(log - top) for log in answers]
    whole = sum(float(w.sum()) for w in weights)
    mean_u = a + ASKED[1] * b + ASKED[2] * g
    first = sum(float((w * mean_u).sum()) for w in weights) / whole
    second = sum(
        float((w * (mean_u**2 + (sd**2 if with_scatter else 0))).sum())
        for w, sd in zip(weights, sds, strict=True)
    )
    below = {
        t: sum(float((w * stats.norm.cdf(t, mean_u, sd)).sum()) for w, sd in zip(weights, sds, strict=True))
        / whole
        for t in (70.0, 80.0, 90.0)
    }
    return first, math.sqrt(second / whole - first**2), below


@pytest.mark.parametrize(
    ("which", "sds"),
    [
        ((2,), (4.0,)),
        ((0,), (4.0,)),
        ((0, 1), (3.0,)),
        ((0, 2), (3.0, 6.0)),
        ((0, 1, 2, 3), (4.0,)),
        ((2, 4), (5.0,)),
    ],
)
def test_against_a_brute_force_grid(which: tuple[int, ...], sds: tuple[float, ...]) -> None:
    found = update(
        PRIOR_MEAN, np.diag(PRIOR_SD**2), DESIGNS[list(which)], tuple(READINGS[i] for i in which), sds
    )
    mixture = found.mixture(ASKED)
    mean, sd, below = brute_force(which, sds)
    assert mixture.estimate.value == pytest.approx(mean, abs=0.02)
    assert mixture.estimate.sigma == pytest.approx(sd, rel=3e-3)
    for limit, chance in below.items():
        assert mixture.below(limit) == pytest.approx(chance, abs=1e-3)


# Against scipy's multivariate normal


@pytest.mark.parametrize("limits", [(77.5,), (77.5, 77.5), (77.5, 95.0)])
def test_against_scipy_multivariate_normal(limits: tuple[float, ...]) -> None:
    """[D] P(next <= t | runs over their limits) is a ratio of two probabilities of a joint normal."""
    sd, m = 4.0, len(limits)
    designs = DESIGNS[:m]
    runs = tuple(Quantity(limit, 0.0, AT_LEAST) for limit in limits)
    found = update(PRIOR_MEAN, np.diag(PRIOR_SD**2), designs, runs, (sd,)).mixture(ASKED)
    joint = np.vstack([designs, ASKED])
    mean = joint @ PRIOR_MEAN
    covariance = joint @ np.diag(PRIOR_SD**2) @ joint.T + sd**2 * np.eye(m + 1)
    # over the limit is under it with the sign turned
    flip = np.diag([-1.0] * m + [1.0])
    over = stats.multivariate_normal(-mean[:m], covariance[:m, :m])
    both = stats.multivariate_normal(flip @ mean, flip @ covariance @ flip)
    for t in (75.0, 85.0, 95.0):
        expected = both.cdf([-x for x in limits] + [t]) / over.cdf([-x for x in limits])
        assert found.below(t) == pytest.approx(float(expected), abs=1e-3)


def test_one_limit_and_one_unknown_against_truncated_normal() -> None:
    """[D] A known scatter next to nothing: the posterior is scipy's truncated normal."""
    found = update(
        np.array([70.0]), np.array([[64.0]]), np.array([[1.0]]), (Quantity(77.5, 0.0, AT_LEAST),), (0.05,)
    )
    expected = stats.truncnorm((77.5 - 70) / 8, np.inf, loc=70, scale=8)
    assert found.mean[0] == pytest.approx(expected.mean(), abs=0.02)
    assert math.sqrt(found.covariance[0, 0]) == pytest.approx(expected.std(), abs=0.02)


@QUICK
@given(
    st.lists(st.tuples(st.floats(0, 6), st.floats(0, 300), st.floats(50, 100)), min_size=1, max_size=5),
    st.floats(3, 6),
)
def test_exact_runs_against_scipy_least_squares(rows: list[tuple[float, ...]], sd: float) -> None:
    """Prior and runs as one weighted least-squares problem, for numpy's general solver."""
    designs = np.array([[1, d, w] for d, w, _ in rows])
    runs = tuple(Quantity(u, 0.5) for *_, u in rows)
    found = update(PRIOR_MEAN, np.diag(PRIOR_SD**2), designs, runs, (sd,))
    spread = math.hypot(sd, 0.5)
    stacked = np.vstack([np.diag(1 / PRIOR_SD), designs / spread])
    wanted = np.concatenate([PRIOR_MEAN / PRIOR_SD, np.array([u for *_, u in rows]) / spread])
    assert found.mean == pytest.approx(np.linalg.lstsq(stacked, wanted, rcond=None)[0], rel=1e-6)
    assert found.covariance == pytest.approx(np.linalg.inv(stacked.T @ stacked), rel=1e-5, abs=1e-9)


# What must hold


@QUICK
@given(st.floats(60, 110), st.floats(3, 6))
def test_at_least_only_ever_pushes_deeper_and_at_most_shallower(limit: float, sd: float) -> None:
    def mean(bound: Bound) -> float:
        run = (Quantity(limit, 0.3, bound),)
        return float(update(PRIOR_MEAN, np.diag(PRIOR_SD**2), DESIGNS[:1], run, (sd,)).mean[0])

    assert mean(AT_MOST) < PRIOR_MEAN[0] < mean(AT_LEAST)


@pytest.mark.parametrize("order", [(3, 2, 1, 0), (2, 0, 3, 1)])
def test_order_of_runs_does_not_matter(order: tuple[int, ...]) -> None:
    def mean(which: Any) -> np.ndarray:
        which = list(which)
        return update(
            PRIOR_MEAN, np.diag(PRIOR_SD**2), DESIGNS[which], tuple(READINGS[i] for i in which), (4.0,)
        ).mean

    assert mean(order) == pytest.approx(mean(range(4)), rel=1e-3)


def test_a_dropped_limit_would_read_shallower() -> None:
    """[C] Bumper readings are neither exact nor dropped: each way of cheating gives another answer."""
    both = update(PRIOR_MEAN, np.diag(PRIOR_SD**2), DESIGNS[[0, 2]], (READINGS[0], READINGS[2]), (4.0,)).mean[
        0
    ]
    dropped = update(PRIOR_MEAN, np.diag(PRIOR_SD**2), DESIGNS[[2]], (READINGS[2],), (4.0,)).mean[0]
    assert both > dropped + 0.5


def test_scatter_is_weighed_by_what_explains_the_runs() -> None:
    runs = tuple(Quantity(u, 0.1) for u in (70.0, 70.2, 69.9, 70.1))
    found = update(np.array([70.0]), np.array([[100.0]]), np.ones((4, 1)), runs, (0.3, 3.0))
    assert found.components[0].weights.sum() > 0.99
    assert sum(part.weights.sum() for part in found.components) == pytest.approx(1)


def test_no_runs_leave_the_prior() -> None:
    found = update(PRIOR_MEAN, np.diag(PRIOR_SD**2), np.zeros((0, 3)), (), (3.0, 6.0))
    assert found.mean == pytest.approx(PRIOR_MEAN)
    assert found.covariance == pytest.approx(np.diag(PRIOR_SD**2), rel=1e-9, abs=1e-9)
    with pytest.raises(SuspensionError):
        update(PRIOR_MEAN, np.diag(PRIOR_SD**2), np.zeros((0, 3)), (), ())


def test_a_limit_far_from_belief_is_still_summed() -> None:
    """[D] Seven sd over the prior: truncated normal again."""
    found = update(
        np.array([40.0]), np.array([[25.0]]), np.array([[1.0]]), (Quantity(77.5, 0.0, AT_LEAST),), (3.0,)
    )
    grid = np.linspace(0, 120, 200_001)
    weights = stats.norm.pdf(grid, 40, 5) * stats.norm.sf(77.5, grid, 3)
    assert found.mean[0] == pytest.approx(float((grid * weights).sum() / weights.sum()), abs=1e-3)


@QUICK
@given(st.floats(0.01, 0.99))
def test_quantiles_undo_probabilities(chance: float) -> None:
    mixture = Mixture(np.array([60.0, 75.0]), np.array([4.0, 6.0]), np.array([0.3, 0.7]))
    assert mixture.below(mixture.quantile(chance)) == pytest.approx(chance, abs=1e-6)


def test_quantile_asks_for_a_probability() -> None:
    with pytest.raises(SuspensionError):
        Mixture(np.zeros(1), np.ones(1), np.ones(1)).quantile(1.0)

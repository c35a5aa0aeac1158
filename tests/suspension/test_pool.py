"""Several owners together: a random effect, against a published example and a general minimiser."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from suspension.advice.pool import OwnerResult, TauMethod, pool, pool_by_load
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from tests.helpers.present import present

DL, REML = TauMethod.DERSIMONIAN_LAIRD, TauMethod.REML

# Thirteen trials of a vaccine (Colditz et al. 1994), the standard example of random effects: cases and others
# among the treated, cases and others among the untreated.
TRIALS = [
    (4, 119, 11, 128),
    (6, 300, 29, 274),
    (3, 228, 11, 209),
    (62, 13536, 248, 12619),
    (33, 5036, 47, 5761),
    (180, 1361, 372, 1079),
    (8, 2537, 10, 619),
    (505, 87886, 499, 87892),
    (29, 7470, 45, 7232),
    (17, 1699, 65, 1600),
    (186, 50448, 141, 27197),
    (5, 2493, 3, 2338),
    (27, 16886, 29, 17825),
]


def log_risk_ratio(a: int, b: int, c: int, d: int) -> Quantity:
    """Log risk ratio and its variance, the handbook's large-sample formula."""
    value = math.log(a / (a + b)) - math.log(c / (c + d))
    return Quantity(value, math.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)))


EXAMPLE = tuple(log_risk_ratio(*row) for row in TRIALS)


@pytest.mark.parametrize(
    ("method", "mean", "se", "tau2"), [(REML, -0.7145, 0.1798, 0.3132), (DL, -0.7141, 0.1787, 0.3088)]
)
def test_published_example(method: TauMethod, mean: float, se: float, tau2: float) -> None:
    """Viechtbauer, J. Stat. Softw. 36(3), 2010 (standard errors from memory): Q 152.23 on 12 degrees of freedom."""
    found = pool(EXAMPLE, method)
    assert found.setting_steps.value == pytest.approx(mean, abs=5e-5)
    assert found.setting_steps.sigma == pytest.approx(se, abs=5e-5)
    assert present(found.tau) ** 2 == pytest.approx(tau2, abs=5e-5)
    assert found.q == pytest.approx(152.23, abs=5e-3) and found.owners == 13
    if method is REML:
        assert found.heterogeneity_percent == pytest.approx(92.22, abs=5e-3)


ROWS = st.lists(st.tuples(st.floats(0, 12), st.floats(0.3, 2)), min_size=3, max_size=8)


@settings(max_examples=30, deadline=None)
@given(ROWS)
def test_reml_against_the_matrix_likelihood(rows: list[tuple[float, ...]]) -> None:
    """The restricted likelihood in its general matrix form, minimised by scipy over a fine grid and then locally."""
    y, v = np.array([a for a, _ in rows]), np.array([s**2 for _, s in rows])
    ones = np.ones((len(y), 1))

    def minus_log(tau2: float) -> float:
        inverse = np.linalg.inv(np.diag(v + tau2))
        information = ones.T @ inverse @ ones
        projected = inverse - inverse @ ones @ np.linalg.inv(information) @ ones.T @ inverse
        return float(0.5 * (np.log(v + tau2).sum() + np.linalg.slogdet(information)[1] + y @ projected @ y))

    grid = np.linspace(0, 160, 400)
    best = grid[np.argmin([minus_log(t) for t in grid])]
    local = optimize.minimize_scalar(minus_log, bounds=(max(0, best - 0.5), best + 0.5), method="bounded")
    found = pool(tuple(Quantity(a, s) for a, s in rows))
    assert minus_log(present(found.tau) ** 2) <= local.fun + 1e-6


def test_intervals_against_scipy() -> None:
    """Knapp and Hartung (2003) for the mean; Higgins, Thompson and Spiegelhalter (2009) for the next owner (memory)."""
    settings_ = (Quantity(5, 0.5), Quantity(7, 0.8), Quantity(6, 0.5), Quantity(9, 1.0))
    found = pool(settings_)
    y, w = np.array([5, 7, 6, 9.0]), 1 / (np.array([0.5, 0.8, 0.5, 1.0]) ** 2 + present(found.tau) ** 2)
    mean = float(w @ y / w.sum())
    sd = math.sqrt(float(w @ (y - mean) ** 2) / 3 / w.sum())
    assert found.mean_interval == pytest.approx(stats.t.interval(0.95, 3, mean, sd))
    spread = math.sqrt(present(found.tau) ** 2 + 1 / w.sum())
    assert found.next_owner_interval == pytest.approx(stats.t.interval(0.95, 2, mean, spread))


@settings(max_examples=40, deadline=None)
@given(ROWS, st.floats(-5, 5), st.floats(0.2, 5), st.sampled_from([DL, REML]))
def test_shift_and_unit(
    rows: list[tuple[float, ...]], shift: float, factor: float, method: TauMethod
) -> None:
    one = pool(tuple(Quantity(a, s) for a, s in rows), method)
    other = pool(tuple(Quantity(factor * (a + shift), factor * s) for a, s in rows), method)
    assert other.setting_steps.value == pytest.approx(
        factor * (one.setting_steps.value + shift), abs=1e-3 * factor
    )
    assert other.setting_steps.sigma == pytest.approx(factor * one.setting_steps.sigma, rel=1e-3)
    assert other.tau == pytest.approx(factor * present(one.tau), abs=2e-2 * factor)


@settings(max_examples=40, deadline=None)
@given(ROWS)
def test_pooled_lies_among_the_owners(rows: list[tuple[float, ...]]) -> None:
    found = pool(tuple(Quantity(a, s) for a, s in rows))
    values = [a for a, _ in rows]
    assert min(values) - 1e-9 <= found.setting_steps.value <= max(values) + 1e-9
    assert present(found.tau) >= 0 and 0 <= present(found.heterogeneity_percent) <= 100
    assert found.setting_steps.sigma >= math.sqrt(1 / sum(1 / s**2 for _, s in rows)) - 1e-9


def test_owners_who_agree_have_no_spread() -> None:
    found = pool((Quantity(6, 0.5), Quantity(6.1, 0.5), Quantity(5.9, 0.5)), DL)
    assert found.tau == 0 and found.setting_steps.sigma == pytest.approx(0.5 / math.sqrt(3))


def test_how_far_to_trust_it() -> None:
    assert "One owner" in pool((Quantity(6, 0.5),)).trust and pool((Quantity(6, 0.5),)).tau is None
    two = pool((Quantity(6, 0.5), Quantity(9, 0.5)))
    assert "too few" in two.trust and two.next_owner_interval is None
    assert "3 owners, who differ" in pool((Quantity(6, 0.5), Quantity(9, 0.5), Quantity(12, 0.5))).trust


def test_what_cannot_be_pooled() -> None:
    for bad in ((), (Quantity(6, 0.0),), (Quantity(6, 0.5), Quantity(12, 0.5, Bound.AT_LEAST))):
        with pytest.raises(SuspensionError):
            pool(bad)


def test_by_load() -> None:
    results = (
        OwnerResult("a", 1000, Quantity(3, 0.5)),
        OwnerResult("b", 1050, Quantity(4, 0.5)),
        OwnerResult("b", 1060, Quantity(6, 0.5)),
        OwnerResult("a", 1500, Quantity(8, 0.5)),
    )
    light, heavy = pool_by_load(results, (1200,))
    assert light.owners == 2 and light.load_n == pytest.approx(3110 / 3)
    assert light.setting_steps.value == pytest.approx((3 + 5) / 2, abs=0.2)  # owner b counts once
    assert heavy.owners == 1 and heavy.setting_steps.value == 8
    assert pool_by_load(results, (500,))[0].owners == 2 and len(pool_by_load(results, (500,))) == 1
    assert pool_by_load((OwnerResult("a", 1200, Quantity(3, 0.5)),), (1200, 1400))[0].load_n == 1200
    with pytest.raises(SuspensionError):
        pool_by_load(results, (1200, 1200))


def test_three_owners_who_agree_have_an_interval_of_some_width() -> None:
    """Their own uncertainties are left: 0.8/sqrt(3) of the mean, times t of 2 degrees of freedom, 4.303 (tables)."""
    agreed = pool((Quantity(6.0, 0.8),) * 3)
    assert agreed.mean_interval is not None
    low, high = agreed.mean_interval
    assert high - 6.0 == pytest.approx(4.303 * 0.8 / math.sqrt(3), abs=0.01) and low < 6.0 < high

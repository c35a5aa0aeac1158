"""Repeatability against a published one-way random effects example, and intervals against their meaning."""

from __future__ import annotations

import numpy as np
import pytest

from strandline.day.results.repeatability import repeatability, reported_sd

# Yield of dyestuff, g, five samples from each of six batches: O. L. Davies (ed.), Statistical Methods in Research
# and Production, 1949; the first example of the documentation of R's lme4, whose REML estimates are 42.00
# (between batches) and 49.51 (within), for balanced data the same as by analysis of variance.
DYESTUFF = (
    (1545, 1440, 1440, 1520, 1580),
    (1540, 1555, 1490, 1560, 1495),
    (1595, 1550, 1605, 1510, 1560),
    (1445, 1440, 1595, 1465, 1545),
    (1595, 1630, 1515, 1635, 1625),
    (1520, 1455, 1450, 1480, 1445),
)


def test_dyestuff() -> None:
    found = repeatability(DYESTUFF)
    assert found is not None and found.between_sd is not None
    assert round(found.sd, 2) == 49.51 and round(found.between_sd, 2) == 42.00
    assert (found.groups, found.readings, found.freedom) == (6, 30, 24)
    # Chi-square of 24 degrees of freedom in printed tables: 12.401 and 39.364.
    assert found.low == pytest.approx((24 * 49.51**2 / 39.364) ** 0.5, rel=1e-4)
    assert found.high == pytest.approx((24 * 49.51**2 / 12.401) ** 0.5, rel=1e-4)


def test_f_ratio_is_scipys() -> None:
    from scipy.stats import f_oneway

    groups = [[1.0, 1.4], [2.0, 2.5, 2.1], [0.3, 0.2, 0.5, 0.6]]
    found = repeatability(groups)
    assert found is not None and found.between_sd is not None
    n0 = (9 - (4 + 9 + 16) / 9) / 2
    ratio = 1 + n0 * found.between_sd**2 / found.sd**2
    assert ratio == pytest.approx(float(f_oneway(*groups).statistic))


def test_interval_holds_the_truth_95_times_in_100() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(1000):
        groups = [rng.normal(rng.normal(0, 20), 0.3, size).tolist() for size in (2, 2, 3, 2, 5)]
        found = repeatability(groups)
        assert found is not None
        held += found.low <= 0.3 <= found.high
    # Binomial: 950 with a standard deviation of 7; four of them.
    assert abs(held - 950) < 28


def test_single_readings_tell_nothing() -> None:
    assert repeatability([[1.0], [2.0]]) is None
    same = repeatability([[1.0, 1.0]])
    assert same is not None and same.sd == 0 and same.between_sd is None
    assert reported_sd([3.0, 4.0]) == pytest.approx((25 / 2) ** 0.5)

"""The joint solve: exact where nothing is disturbed, and as wrong as it says where everything is."""

from __future__ import annotations

import numpy as np
import pytest
from made_evidence import TRUE_RIMS_MM, made
from scipy import stats

from vision.solve import solve


@pytest.mark.parametrize("diameter_mm", [10.0, 41.0])
def test_exact_points_give_exact_lengths(diameter_mm: float) -> None:
    scene = made(np.random.default_rng(4), noise=0.0, diameter_mm=diameter_mm)
    found = solve(scene.theta, scene.evidence)
    for name, place in TRUE_RIMS_MM.items():
        assert found.rim_s_mm[name] - found.rim_s_mm["seal"] == pytest.approx(place + 52.0, abs=0.01)
    assert abs(found.depth_mm) < 0.1


def test_claimed_uncertainty_is_what_the_errors_are() -> None:
    # Every source drawn from its stated distribution; the normalised errors must be standard normal
    # (JCGM 100, 5.2: linear propagation). Bounds: 99.8 % of the binomial at 95 % coverage, Kolmogorov-Smirnov
    # at one in a thousand.
    rng = np.random.default_rng(20261125)
    z = []
    for _ in range(60):
        scene = made(rng, diameter_mm=float(rng.uniform(10, 45)), distance_mm=float(rng.uniform(220, 600)))
        found = solve(scene.theta, scene.evidence)
        names = list(found.rim_s_mm)
        for start, end in (("seal", "far end"), ("seal", "marker")):
            g = np.array([(n == end) - (n == start) for n in names], float)
            sd = float(np.sqrt(g @ found.rim_covariance_mm2 @ g))
            error = found.rim_s_mm[end] - found.rim_s_mm[start] - (TRUE_RIMS_MM[end] - TRUE_RIMS_MM[start])
            z.append(error / sd)
    inside = int(np.sum(np.abs(z[0::2]) < 1.96)), int(np.sum(np.abs(z[1::2]) < 1.96))
    for k in inside:
        assert k >= stats.binom.ppf(0.001, 60, 0.95)
    assert stats.kstest(z[0::2], "norm").pvalue > 1e-3
    assert 0.7 < np.std(z) < 1.3

"""The joint solve: exact where nothing is disturbed; test_coverage.py holds it to what it claims where all is."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_observations import TRUE_RIMS_MM, made
from vision.adjustment.solve import solve
from vision.names import RimName


@pytest.mark.parametrize("diameter_mm", [10.0, 41.0])
def test_exact_points_give_exact_lengths(diameter_mm: float) -> None:
    scene = made(np.random.default_rng(4), noise=0.0, diameter_mm=diameter_mm)
    found = solve(scene.theta, scene.observations)
    for name, place in TRUE_RIMS_MM.items():
        assert found.rim_s_mm[name] - found.rim_s_mm[RimName.SEAL] == pytest.approx(place + 52.0, abs=0.01)
    assert abs(found.depth_mm) < 0.1

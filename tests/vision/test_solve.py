"""The joint solve: exact where nothing is disturbed; test_coverage.py holds it to what it claims where all is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_observations import TRUE_RIMS_MM, made
from vision.adjustment.parameters import LOGF, SHIFT
from vision.adjustment.residuals import ResidualModel, Residuals
from vision.adjustment.solve import solve
from vision.names import RimName


@pytest.mark.parametrize("diameter_mm", [10.0, 41.0])
def test_exact_points_give_exact_lengths(diameter_mm: float) -> None:
    scene = made(np.random.default_rng(4), noise=0.0, diameter_mm=diameter_mm)
    found = solve(scene.theta, scene.observations)
    for name, place in TRUE_RIMS_MM.items():
        assert found.rim_s_mm[name] - found.rim_s_mm[RimName.SEAL] == pytest.approx(place + 52.0, abs=0.01)
    assert abs(found.depth_mm) < 0.1


@pytest.mark.parametrize("log_focal", [-0.4, 0.0, 0.4])
def test_a_free_focal_length_is_solved_to_its_minimum(
    log_focal: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The minimum of least squares has no gradient along any parameter, wherever the solver started.

    Along the bent valley of focal length and distance it used to stop after 60 evaluations, on the way.
    """
    scene = made(np.random.default_rng(4), noise=1.0, diameter_mm=41.0)
    free = replace(scene.observations, focal_rel_sd=0.5)
    start = scene.theta.copy()
    start[LOGF] += log_focal
    start[SHIFT.stop - 1] *= np.exp(log_focal)
    evaluations, evaluate = [], ResidualModel.evaluate

    def counted(model: ResidualModel, theta: np.ndarray) -> Residuals:
        evaluations.append(theta)
        return evaluate(model, theta)

    with monkeypatch.context() as patched:
        patched.setattr(ResidualModel, "evaluate", counted)
        found = solve(start, free)
    assert len(evaluations) < 20
    at = ResidualModel(free).evaluate(found.theta)
    # As a share of each parameter's standard uncertainty.
    left = np.abs(at.jacobian.T @ at.residuals) * np.sqrt(np.diag(found.covariance))
    assert left.max() < 0.05

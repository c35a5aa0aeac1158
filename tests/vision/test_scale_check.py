"""Card against diameter: one step of the solve where that is enough, the solve itself where it is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.special_photos import case
from vision.adjustment.observations import Observations
from vision.adjustment.parameters import AZ
from vision.adjustment.solve import solve
from vision.read import read_traced
from vision.shaft import scale_check as scale
from vision.shaft.fit import ShaftFit


@pytest.fixture(scope="module")
def fit() -> ShaftFit:
    plain = case("plain")
    _, trace = read_traced(plain.pixels, plain.request)
    assert trace.fit is not None
    return trace.fit


def test_one_step_says_what_the_solve_would(fit: ShaftFit) -> None:
    freed = replace(fit.observations, use_card_depth=False, rims=())
    solved = solve(fit.solution.theta, freed)
    found = scale.scale_check(fit)
    assert found.depth_gap_mm == pytest.approx(solved.depth_mm, abs=0.02)
    assert found.depth_gap_sd_mm == pytest.approx(solved.depth_sd_mm, rel=0.02)


@pytest.mark.parametrize(("depth_mm", "sd_mm"), [(0.0, 900.0), (30.0, 1.0)])
def test_a_depth_held_weakly_or_far_off_is_solved_for(
    fit: ShaftFit, depth_mm: float, sd_mm: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    def step(theta: np.ndarray, observations: Observations) -> tuple[np.ndarray, np.ndarray]:
        there = theta.copy()
        there[AZ] = depth_mm
        return there, sd_mm**2 * np.eye(len(theta))

    monkeypatch.setattr(scale, "gauss_newton_step", step)
    freed = replace(fit.observations, use_card_depth=False, rims=())
    assert scale.scale_check(fit).depth_gap_mm == solve(fit.solution.theta, freed).depth_mm

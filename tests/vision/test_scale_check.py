"""Card against diameter: one step of the solve where that is enough, the solve itself where it is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.card import BOARD_WIDTH_MM
from tests.helpers.special_photos import case
from vision.adjustment.observations import Observations, card_depth_sd_mm
from vision.adjustment.parameters import AZ
from vision.adjustment.scale_mixture import scale_priors
from vision.adjustment.solve import solve
from vision.read import read_traced
from vision.reading import ScaleCheck
from vision.reasons import Reason
from vision.shaft import reconcile
from vision.shaft import scale_check as scale
from vision.shaft.fit import ShaftFit


@pytest.fixture(scope="module")
def fit() -> ShaftFit:
    plain = case("plain")
    _, trace = read_traced(plain.pixels, plain.request)
    assert trace.seen is not None
    return trace.seen.fit


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


def gap(depth_mm: float, sd_mm: float = 1.0) -> ScaleCheck:
    return ScaleCheck(4.0, 4.0, depth_mm, sd_mm)


@pytest.mark.parametrize(
    ("depth_mm", "sd_mm", "conflict"),
    [(12.0, 1.0, False), (-15.0, 1.0, False), (16.5, 1.0, True), (-16.5, 1.0, True), (24.0, 10.0, False)],
)
def test_a_card_turned_a_little_is_no_conflict(depth_mm: float, sd_mm: float, conflict: bool) -> None:
    """An axis 62.5 mm beside the card's middle: sqrt(3² + (0.07 · 62.5)²) = 5.3 mm, thrice which is 15.9."""
    card_sd_mm = card_depth_sd_mm(BOARD_WIDTH_MM / 2 + 62.5)
    assert card_sd_mm == pytest.approx(5.305, abs=0.001)
    assert scale.scale_conflict(gap(depth_mm, sd_mm), card_sd_mm) is conflict


def test_a_card_beside_the_shaft_has_no_room_to_turn() -> None:
    """Over the card's own middle yaw moves nothing: three times 3 mm."""
    level = card_depth_sd_mm(BOARD_WIDTH_MM / 2)
    assert [scale.scale_conflict(gap(z), level) for z in (8.5, 9.5)] == [False, True]


@pytest.mark.parametrize(
    ("depth_mm", "sd_mm", "said"),
    [(5.0, 0.5, False), (7.0, 3.0, False), (-7.0, 0.6, True), (12.0, 3.0, True)],
)
def test_a_card_surely_off_the_centre_line_is_said(depth_mm: float, sd_mm: float, said: bool) -> None:
    assert (scale.depth_remark(gap(depth_mm, sd_mm)) is not None) is said


@pytest.mark.parametrize("print_scale", [0.94, 1.0])
def test_a_wrong_print_scale_is_noticed(print_scale: float) -> None:
    """The plain photo's card stated 6 % larger than it is: refused, or read with the remark."""
    plain = case("plain")
    declared = replace(
        plain.request.declared,
        print_along=plain.request.declared.print_along / print_scale,
        print_across=plain.request.declared.print_across / print_scale,
    )
    found = replace(plain, request=replace(plain.request, declared=declared)).read()
    noticed = found.reason is Reason.SCALE_CONFLICT or any("print scale" in text for text in found.remarks)
    assert noticed is (print_scale < 1)


@pytest.mark.parametrize(("depth_mm", "sd_mm", "times"), [(2.0, 0.5, 5.0), (13.0, 0.5, 5.0)])
def test_card_and_diameter_are_widened_as_the_mixture_says(
    fit: ShaftFit, depth_mm: float, sd_mm: float, times: float
) -> None:
    """What is only within reach of a mislaid card or a false diameter widens the diameter fivefold and more."""
    found, before = reconcile.with_scale_mixture(fit, gap(depth_mm, sd_mm)).observations, fit.observations
    distance_mm = float(np.linalg.norm(fit.solution.cylinder.point_cam))
    priors = scale_priors(depth_mm, sd_mm, before.card_depth_sd_mm, distance_mm)
    assert found.card_depth_sd_mm == priors.depth_sd_mm
    extra_mm = priors.diameter_extra_sd * before.declared.diameter_mm
    assert found.declared.diameter_sd_mm == pytest.approx(np.hypot(before.declared.diameter_sd_mm, extra_mm))
    assert (extra_mm > times * before.declared.diameter_sd_mm) is (depth_mm > 10)


def test_what_the_silhouettes_leave_open_widens_nothing(fit: ShaftFit) -> None:
    assert reconcile.with_scale_mixture(fit, gap(12.0, 5.0)) is fit


@pytest.mark.parametrize(
    ("stated", "own", "vaguer"),
    [
        ((-25.0, 1.0), (-17.0, 9.0), True),
        ((-25.0, 1.0), (-4.0, 9.0), False),
        ((-5.0, 1.0), (-17.0, 9.0), False),
    ],
)
def test_the_photos_own_focal_length_cures_no_contradiction(
    fit: ShaftFit,
    stated: tuple[float, float],
    own: tuple[float, float],
    vaguer: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """At some 260 mm, 25 mm is more than 4.5 %; 17 mm is more than three times the card's 5 mm."""
    other = replace(fit)
    gaps = {id(fit): gap(*stated), id(other): gap(*own)}
    monkeypatch.setattr(reconcile, "scale_check", lambda which: gaps[id(which)])
    assert reconcile.only_vaguer(fit, other) is vaguer


@pytest.mark.parametrize("times", [0.95, 1.05])
def test_a_wrong_diameter_is_refused_or_doubted(times: float) -> None:
    plain = case("plain")
    declared = replace(plain.request.declared, diameter_mm=times * plain.request.declared.diameter_mm)
    # The scene's fork stands on its head.
    upright = replace(plain.request, declared=declared, quarter_turns=2)
    found = replace(plain, request=upright).read()
    # True lengths of this rendering: tests/vision/photos/plain.json.
    for length, true_mm in ((found.exposed, 106.766), (found.marker, 48.0), (found.remaining, 58.766)):
        assert length is None or abs(length.value_mm - true_mm) <= max(1.0, length.u95_mm)

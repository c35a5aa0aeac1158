"""The budget of uncertainty: its parts add up, and each is what the source does when it is moved or made better."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.camera import SQUARE_ASPECT_SD
from tests.helpers.made_observations import Made, gradient, made
from vision.adjustment.observations import CORNER_SD_PX, PRINT_ANISOTROPY_SD, Observations, PriorInputs
from vision.adjustment.parameters import FIXED
from vision.adjustment.solve import solve
from vision.lengths.budget import CUT_TIMES, Budget, Source, budgets, weighted_residuals
from vision.names import LengthName
from vision.reading import Joint


def at(observations: Observations, theta: np.ndarray) -> Joint:
    return Joint(solve(theta, observations), observations)


def length_mm(joint: Joint, name: LengthName) -> float:
    return float(gradient(joint.solution, name) @ np.array(list(joint.solution.rim_s_mm.values())))


def length_u95_mm(joint: Joint, name: LengthName) -> float:
    g = gradient(joint.solution, name)
    return float(2 * np.sqrt(g @ joint.solution.rim_covariance_mm2 @ g))


def budget_of(joint: Joint, name: LengthName) -> Budget:
    (found,) = [b for b in budgets(joint) if b.quantity == name]
    return found


def share(budget: Budget, source: Source) -> float:
    (found,) = [s.u95_mm for s in budget.shares if s.source is source]
    return found


@pytest.fixture(scope="module")
def scene() -> Made:
    # Nothing has erred, so no point is far enough off for Huber's loss to weigh it otherwise when it is moved.
    return made(np.random.default_rng(3), noise=0.0)


@pytest.fixture(scope="module")
def exact(scene: Made) -> Joint:
    return at(scene.observations, scene.theta)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("diameter_mm", [10.0, 41.0])
def test_parts_add_up_to_what_is_claimed(seed: int, diameter_mm: float) -> None:
    """JCGM 100:2008, 5.1.2: the squares of independent inputs' contributions add up."""
    drawn = made(np.random.default_rng(seed), diameter_mm=diameter_mm)
    joint = at(drawn.observations, drawn.theta)
    # The covariance is of the point before the last step: solved again from there, both points come to lie together.
    for _ in range(4):
        joint = at(drawn.observations, joint.solution.theta)
    found = budgets(joint)
    assert [b.quantity for b in found] == list(LengthName)
    for budget in found:
        claimed = length_u95_mm(joint, budget.quantity)
        assert budget.u95_mm == pytest.approx(claimed, rel=1e-12)
        assert np.sqrt(sum(s.u95_mm**2 for s in budget.shares)) == pytest.approx(claimed, rel=1e-6)
        assert [s.u95_mm for s in budget.shares] == sorted((s.u95_mm for s in budget.shares), reverse=True)


@pytest.mark.parametrize("seed", [0, 8])
def test_parts_of_a_photo_with_a_free_focal_length_add_up(seed: int) -> None:
    """The same where the solver's last step is long: its covariance is of the point before that step."""
    drawn = made(np.random.default_rng(seed))
    joint = at(replace(drawn.observations, focal_extra_sd=0.5, centre_sd_px=800.0), drawn.theta)
    for budget in budgets(joint):
        claimed = length_u95_mm(joint, budget.quantity)
        assert budget.u95_mm == pytest.approx(claimed, rel=1e-12)
        assert np.sqrt(sum(s.u95_mm**2 for s in budget.shares)) == pytest.approx(claimed, rel=0.005)


def test_every_source_has_its_rows(exact: Joint) -> None:
    jacobian, rows = weighted_residuals(exact)
    assert len(jacobian) == len(rows.sources) == len(rows.parameters)
    assert set(rows.sources) == set(Source) - {Source.AXIS}
    e = exact.observations
    count = {source: rows.sources.count(source) for source in Source}
    # Seen: two a corner, one a point. Known beforehand: see `Errors`, and an offset a silhouette and a rim.
    assert count[Source.CORNERS] == 2 * len(e.sighting.corner_ids)
    assert count[Source.SILHOUETTES] == len(e.left_px) + len(e.right_px) + 2
    assert count[Source.MARKER] == len(e.rims[1].points_px) + 1
    assert count[Source.SEAL] == len(e.rims[0].points_px) + 4
    assert [count[s] for s in (Source.PRINT, Source.CARD, Source.CENTRE)] == [2, 2, 2]
    assert [count[s] for s in (Source.DIAMETER, Source.FOCAL, Source.DISTORTION)] == [1, 1, 1]
    assert count[Source.BAND] == 3


def _diameter(e: Observations, step: float) -> Observations:
    d = e.declared
    return replace(e, declared=replace(d, diameter_mm=d.diameter_mm + step * d.diameter_sd_mm))


def _focal(e: Observations, step: float) -> Observations:
    factor = float(np.exp(step * e.focal_rel_sd))
    return replace(e, camera=replace(e.camera, focal_px=e.camera.focal_px * factor))


def _print_scale(e: Observations, step: float) -> Observations:
    # Along and across equally: the other row, across against along, does not change.
    d = e.declared
    moved = step * d.print_sd
    return replace(
        e, declared=replace(d, print_along=d.print_along + moved, print_across=d.print_across + moved)
    )


def _print_across(e: Observations, times: float) -> Observations:
    d = e.declared
    moved = times * PRINT_ANISOTROPY_SD
    return replace(e, declared=replace(d, print_across=d.print_across + moved))


def _aspect(e: Observations, times: float) -> Observations:
    """Scale the photo's width and height by opposite factors about its middle, as its pixels' prior allows."""
    by = np.exp(times * SQUARE_ASPECT_SD * np.array([-0.5, 0.5]))
    middle = np.array([e.camera.cx_px, e.camera.cy_px])

    def scaled(points_px: np.ndarray) -> np.ndarray:
        return np.asarray(middle + (points_px - middle) * by)

    return replace(
        e,
        sighting=replace(e.sighting, corners_px=scaled(e.sighting.corners_px)),
        left_px=scaled(e.left_px),
        right_px=scaled(e.right_px),
        rims=tuple(replace(rim, points_px=scaled(rim.points_px)) for rim in e.rims),
    )


@pytest.mark.parametrize("name", list(LengthName))
@pytest.mark.parametrize(
    ("source", "inputs"),
    [
        (Source.DIAMETER, (_diameter,)),
        (Source.FOCAL, (_focal,)),
        (Source.PRINT, (_print_scale, _print_across)),
        (Source.ASPECT, (_aspect,)),
    ],
)
def test_a_share_is_what_moving_its_inputs_does(name, source, inputs, exact: Joint) -> None:  # type: ignore[no-untyped-def]
    """Effect of moving each input and solving again (JCGM 100:2008, 5.1.3, note 2), by central differences."""
    step, variance = 0.5, 0.0
    for moved in inputs:
        up, down = (at(moved(exact.observations, s), exact.solution.theta) for s in (step, -step))
        variance += ((length_mm(up, name) - length_mm(down, name)) / (2 * step)) ** 2
    claimed = share(budget_of(exact, name), source)
    assert claimed > 0.002
    assert 2 * np.sqrt(variance) == pytest.approx(claimed, rel=0.03)


def test_the_corners_share_is_what_moving_each_corner_does(exact: Joint) -> None:
    e, variance = exact.observations, 0.0
    corners = e.sighting.corners_px
    base = length_mm(exact, LengthName.EXPOSED)
    for k in range(corners.size):
        moved = corners.copy().ravel()
        moved[k] += CORNER_SD_PX
        other = replace(e, sighting=replace(e.sighting, corners_px=moved.reshape(-1, 2)))
        variance += (length_mm(at(other, exact.solution.theta), LengthName.EXPOSED) - base) ** 2
    assert 2 * np.sqrt(variance) == pytest.approx(
        share(budget_of(exact, LengthName.EXPOSED), Source.CORNERS), rel=0.03
    )


@pytest.mark.parametrize("name", [LengthName.EXPOSED, LengthName.MARKER])
def test_halving_a_source_does_what_is_said(name: LengthName, exact: Joint) -> None:
    """Solve the same photo with half the standard uncertainty declared."""
    e = exact.observations
    d = e.declared
    better = {
        Source.DIAMETER: replace(
            e, declared=PriorInputs(d.diameter_mm, d.diameter_sd_mm / 2, 1.0, 1.0, d.print_sd)
        ),
        Source.FOCAL: replace(e, focal_rel_sd=e.focal_rel_sd / 2),
        Source.DISTORTION: replace(e, k1_sd=e.k1_sd / 2),
        Source.CENTRE: replace(e, centre_sd_px=e.centre_sd_px / 2),
        Source.SILHOUETTES: replace(
            e,
            side_sd_px=(e.side_sd_px[0] / 2, e.side_sd_px[1] / 2),
            side_point_sd_px=(e.side_point_sd_px[0] / 2, e.side_point_sd_px[1] / 2),
        ),
    }
    budget = budget_of(exact, name)
    halved = {s.source: s.whole_if_halved_mm for s in budget.shares}
    for source, observations in better.items():
        again = budget_of(at(observations, exact.solution.theta), name)
        assert halved[source] == pytest.approx(again.u95_mm, rel=1e-4), source
        assert halved[source] < budget.u95_mm


def test_the_sources_named_for_halving_do_halve(exact: Joint) -> None:
    """Cut each of them to a quarter through the whole normal equations, and half of the ± is left, but not with
    the last one left out."""
    jacobian, rows = weighted_residuals(exact)
    for budget in budgets(exact):
        g = np.zeros(jacobian.shape[1])
        g[FIXED::5] = gradient(exact.solution, budget.quantity)

        def left(sources: tuple[Source, ...], g: np.ndarray = g) -> float:
            weight = np.array([CUT_TIMES if s in sources else 1.0 for s in rows.sources])
            covariance = np.linalg.inv((jacobian * weight[:, None]).T @ (jacobian * weight[:, None]))
            return 2 * float(np.sqrt(g @ covariance @ g))

        assert left(()) == pytest.approx(budget.u95_mm, rel=1e-5)
        assert left(budget.to_halve) <= budget.u95_mm / 2
        assert left(budget.to_halve[:-1]) > budget.u95_mm / 2
        first, *_ = budget.to_halve
        assert left((first,)) == pytest.approx(min(left((share.source,)) for share in budget.shares))


def test_a_source_that_is_absent_is_not_listed(scene: Made) -> None:
    nothing = np.zeros((0, 2))
    bare = replace(
        scene.observations, rims=scene.observations.rims[::2], axis_px=scene.observations.left_px[:3]
    )
    joint = at(bare, scene.theta[: FIXED + 10])
    (budget,) = budgets(joint)
    assert budget.quantity == LengthName.EXPOSED
    named = {s.source for s in budget.shares}
    assert not named & {Source.MARKER, Source.BAND} and Source.AXIS in named
    none = replace(bare, left_px=nothing, right_px=nothing)
    (budget,) = budgets(at(none, joint.solution.theta))
    # Their offsets are still parameters, but no length depends on them.
    assert share(budget, Source.SILHOUETTES) == pytest.approx(0.0, abs=1e-9)

"""Residuals of the joint adjustment: derivatives against numeric ones and OpenCV's, priors against their sigmas."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, least_squares

from calibration.pose import card_points_mm, rotation
from tests.helpers.made_observations import Made, made
from vision.adjustment import parameters as p
from vision.adjustment import residuals as r
from vision.adjustment.observations import (
    BAND_TILT_SD,
    CARD_DEPTH_SD_MM,
    CARD_TILT_SD,
    CORNER_SD_PX,
    FLAT_BEND_SD_MM,
    Observations,
    RimPoints,
)
from vision.adjustment.solve import solve

# A step of each parameter that is small in a photo: turn, shift, log focal length, k1, print along and across,
# axis place and depth, its slopes, radius, offsets of the silhouettes, the frame's middle, the card's bend, the
# pixels' aspect, then each rim's five.
STEPS = np.array(
    [0.003] * 3 + [1.0] * 3 + [0.01, 0.01, 0.001, 0.001, 1.0, 1.0, 0.01, 0.01, 0.1, 0.2, 0.2, 2.0, 2.0, 1.0]
    + [0.01] + [0.3, 0.2, 0.3, 0.02, 0.02] * 3
)  # fmt: skip


def scene_with_all(seed: int) -> tuple[Observations, np.ndarray]:
    """Make a scene with noisy points, points beside the shaft and points set by hand, and parameters near its own."""
    rng = np.random.default_rng(seed)
    scene: Made = made(rng, diameter_mm=float(rng.uniform(10, 45)), distance_mm=float(rng.uniform(220, 600)))
    e = scene.observations
    theta = solve(scene.theta, e).theta + 0.2 * STEPS * rng.standard_normal(len(STEPS))
    rims: list[RimPoints] = []
    for rim in e.rims:
        points = rim.points_px.copy()
        points[:3] += rng.normal(0, 6, (3, 2))  # beyond 2 sd: Huber's part
        points[-1, 0] += 900  # beside the shaft
        rims.append(replace(rim, points_px=points, mean_weight=2.0 - 0.5 * len(rims)))
    smudged = e.left_px + rng.normal(0, 1, e.left_px.shape)
    e = replace(
        e,
        rims=tuple(rims),
        left_px=smudged,
        axis_px=(e.left_px + e.right_px)[::8] / 2 + rng.normal(0, 9, (5, 2)),
    )
    return e, theta


def agrees_with_numeric(observations: Observations, theta: np.ndarray) -> None:
    model = r.ResidualModel(observations)
    exact = model.evaluate(theta).jacobian * STEPS
    # Central differences by scipy.optimize.least_squares ("3-point"), stopped before its first step.
    numeric = least_squares(
        lambda u: model.evaluate(theta + STEPS * u).residuals, np.zeros(len(theta)), jac="3-point", max_nfev=1
    ).jac
    for row in range(len(exact)):
        assert exact[row] == pytest.approx(numeric[row], rel=1e-5, abs=1e-6 * np.abs(numeric[row]).max()), row


@pytest.mark.parametrize("seed", [1, 2, 3, 5])
def test_derivatives_are_those_of_numeric_differences(seed: int) -> None:
    observations, theta = scene_with_all(seed)
    compared = r.ResidualModel(observations).evaluate(theta)
    rim_rows = compared.jacobian[:, p.FIXED].nonzero()[0]
    assert 0 < len(rim_rows) < 15, "the point beside the shaft counts for nothing, the others do"
    assert 0 < np.mean(np.abs(compared.sides) > 2) < 1, "both parts of Huber's loss are seen"
    agrees_with_numeric(observations, theta)


def test_derivatives_hold_where_the_solve_strays() -> None:
    # An edge deep below the surface, and a shaft that passes through the camera: both are held at a limit.
    observations, theta = scene_with_all(5)
    theta[[p.FIXED + 2, p.FIXED + 7]] = -40.0
    agrees_with_numeric(observations, theta)
    observations, theta = scene_with_all(6)
    camera_card = -rotation(theta[p.TURN]).T @ theta[p.SHIFT]
    beyond_middle = camera_card[1] - 84.0
    theta[p.AX] = camera_card[0] - theta[p.DX] * beyond_middle + 0.3
    theta[p.AZ] = camera_card[2] - theta[p.DZ] * beyond_middle + 0.4
    assert p.cylinder_of(theta).camera_distance_mm() < 0.6
    agrees_with_numeric(observations, theta)


def test_a_mean_that_is_known_better_than_its_points_tell() -> None:
    """With all else held, rows whose mean counts k-fold place a rim as s / (k sqrt(n)) does, and its bow as before.

    The variance of a mean of n independent values is one of n of theirs (GUM 4.2.3); least squares gives it as the
    inverse of J' J (GUM H.3).
    """
    scene = made(np.random.default_rng(9))
    observations, theta = scene.observations, solve(scene.theta, scene.observations).theta
    at_s, times = p.FIXED, 4.0
    seal = observations.rims[0]
    rows = slice(
        2 * len(observations.sighting.corner_ids) + len(observations.left_px) + len(observations.right_px),
        None,
    )
    count = len(seal.points_px)

    def of_seal(mean_weight: float) -> tuple[np.ndarray, np.ndarray]:
        rims = (replace(seal, mean_weight=mean_weight), *observations.rims[1:])
        compared = r.ResidualModel(replace(observations, rims=rims)).evaluate(theta)
        return compared.residuals[rows][:count], compared.jacobian[rows][:count]

    (z, by), (more_z, more_by) = of_seal(1.0), of_seal(times)
    assert np.abs(z).max() < 2 and np.abs(more_z).max() < 2, "Huber's loss has no part in it"
    sd, more_sd = (1 / np.linalg.norm(j[:, at_s]) for j in (by, more_by))
    # Points of a rim are not equally far off: its mean is not quite the mean of millimetres.
    assert more_sd == pytest.approx(sd / times, rel=0.01)
    px_per_mm = np.mean(-by[:, at_s]) * seal.point_sd_px
    assert sd == pytest.approx(seal.point_sd_px / count**0.5 / px_per_mm, rel=0.01)
    np.testing.assert_allclose(more_z - more_z.mean(), z - z.mean(), atol=1e-12)
    np.testing.assert_allclose(more_by - more_by.mean(axis=0), by - by.mean(axis=0), atol=1e-9)


def curled(flat: np.ndarray, bend_mm: float) -> np.ndarray:
    """Bend a flat sheet to the parabola z = -b (t² - 1/3), t = (y - 84)/84, by its arc length.

    The arc from the middle is integrated numerically (scipy), and inverted by root finding: nothing of
    the program's own expansion is used.
    """
    half, out = 84.0, flat.copy()
    for point in out:

        def arc(y: float) -> float:
            slope = 2 * bend_mm / half**2
            return float(quad(lambda v: np.hypot(1.0, slope * v), 0.0, y)[0])

        wanted = point[1] - half
        y = brentq(lambda v, wanted=wanted: arc(v) - wanted, -120.0, 120.0, xtol=1e-12)
        point[1], point[2] = y + half, -bend_mm * ((y / half) ** 2 - 1 / 3)
    return out


@pytest.mark.parametrize("bend_mm", [0.0, 1.5, -4.0])
def test_corners_answer_to_pose_lens_and_bend_as_opencv_says(bend_mm: float) -> None:
    observations, theta = scene_with_all(7)
    camera = p.camera_of(theta, observations)
    theta[p.BEND] = bend_mm
    points = card_points_mm(observations.sighting.corner_ids, theta[p.ALONG], theta[p.ACROSS])
    points = curled(points, bend_mm)
    along_x, along_y = camera.focal_px * np.exp(theta[p.ASPECT] * np.array([-0.5, 0.5]))
    matrix = np.array([[along_x, 0, camera.cx_px], [0, along_y, camera.cy_px], [0, 0, 1]])
    # cv2.projectPoints: columns are turn, shift, focal lengths, principal point, k1 and the rest of the lens.
    seen, by = cv2.projectPoints(
        points, theta[p.TURN], theta[p.SHIFT], matrix, np.array([camera.k1, 0, 0, 0])
    )
    compared = r.ResidualModel(observations).evaluate(theta)
    ours = compared.jacobian[: 2 * len(points)] * CORNER_SD_PX
    away = (seen.reshape(-1, 2) - observations.sighting.corners_px).ravel()
    # Of a bend of 4 mm the expansion leaves 0.001 mm.
    allowed = 1e-9 if bend_mm == 0 else 0.02
    np.testing.assert_allclose(compared.corners * CORNER_SD_PX, away, atol=allowed)
    if bend_mm:
        return
    np.testing.assert_allclose(ours[:, :6], by[:, :6], rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(ours[:, p.LOGF], by[:, 6] * along_x + by[:, 7] * along_y, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(
        ours[:, p.ASPECT], 0.5 * (by[:, 7] * along_y - by[:, 6] * along_x), rtol=1e-8, atol=1e-8
    )
    np.testing.assert_allclose(ours[:, p.CENTRE], by[:, 8:10], atol=1e-12)
    np.testing.assert_allclose(ours[:, p.K1], by[:, 10], rtol=1e-8, atol=1e-8)


def test_one_standard_uncertainty_from_what_is_stated_is_a_residual_of_one() -> None:
    e = made(np.random.default_rng(8)).observations
    e = replace(e, declared=replace(e.declared, print_along=0.995, print_across=0.997, print_sd=0.002))
    theta = np.zeros(p.FIXED + p.PER_RIM * 3)
    theta[p.SHIFT] = [-18, -84, 350]
    theta[p.ALONG], theta[p.ACROSS], theta[p.R_MM] = 0.995, 0.997, 20.5
    priors = [
        (p.LOGF, e.focal_rel_sd), (p.K1, e.k1_sd), (p.R_MM, 0.01), (p.DZ, CARD_TILT_SD),
        (p.AZ, CARD_DEPTH_SD_MM), (15, e.side_sd_px[0]), (16, e.side_sd_px[1]),
        (17, e.centre_sd_px), (18, e.centre_sd_px), (p.BEND, FLAT_BEND_SD_MM), (p.ACROSS, 0.001),
    ]  # fmt: skip
    for i, (height_sd, tilt_sd) in enumerate([(0.001, 0.003), (0.3, BAND_TILT_SD), (0.001, 0.003)]):
        own = (e.rims[i].sd_px, height_sd, tilt_sd, tilt_sd)
        priors += [(p.FIXED + p.PER_RIM * i + k + 1, sd) for k, sd in enumerate(own)]
    model = r.ResidualModel(e)
    measured = 2 * len(e.sighting.corner_ids) + len(e.left_px) + len(e.right_px)
    measured += sum(len(rim.points_px) for rim in e.rims)
    assert model.evaluate(theta).residuals[measured:] == pytest.approx(0.0, abs=1e-9)
    for k, sd in priors:
        moved = theta.copy()
        moved[k] += sd
        assert np.sum(model.evaluate(moved).residuals[measured:] ** 2) == pytest.approx(1.0), k
    # The print along the card takes the print across with it.
    moved = theta.copy()
    moved[[p.ALONG, p.ACROSS]] += 0.002
    assert np.sum(model.evaluate(moved).residuals[measured:] ** 2) == pytest.approx(1.0)

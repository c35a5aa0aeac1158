"""Borders of shaft and background in made-up edge views; the expected positions are closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.helpers.made_frame import FRAME, PX_PER_RADIUS
from vision.adjustment.observations import SILHOUETTE_SD_PX
from vision.geometry.views import (
    EDGE_COLUMNS,
    EDGE_REACH_U,
    EDGE_ROWS,
    EDGE_STEP_MM,
    edge_column_u,
    edge_row_of_reader,
    edge_u,
)
from vision.shaft import edges
from vision.shaft.edges import (
    COARSE_SIGMA,
    CORRELATION_LENGTH_MM,
    INLIER_COLUMNS,
    SHARPEST_TRANSITION_COLUMNS,
    SILHOUETTE_BIAS_U,
    TILT_SHARE,
    EdgeSearch,
    SilhouettePoints,
    inliers,
    side_sigma_px,
    silhouette_points,
)

COLUMN_U = edge_column_u(EDGE_REACH_U)
# On a long edge.
POINTS = 100


def classes(edge_u_of_row: np.ndarray, width_u: float = COLUMN_U) -> np.ndarray:
    """Shaft up to the given place in each row, a linear ramp of `width_u` across it."""
    inside = np.clip(
        (edge_u_of_row[:, None] - edge_u(np.arange(EDGE_COLUMNS), EDGE_REACH_U)[None, :]) / width_u + 0.5,
        0,
        1,
    )
    return np.stack([inside, 1 - inside, np.zeros_like(inside)])


@given(st.floats(0.8, 1.2), st.floats(-0.05, 0.05))
def test_a_clean_border_is_found_to_a_tenth_of_a_column(middle: float, slope: float) -> None:
    true = middle + slope * np.linspace(-1, 1, EDGE_ROWS)
    found = silhouette_points(classes(true), EDGE_REACH_U)
    assert len(found.u) == EDGE_ROWS
    np.testing.assert_allclose(found.u, true, atol=0.1 * COLUMN_U)


def test_rows_that_show_something_else_are_left_out() -> None:
    p = classes(np.full(EDGE_ROWS, 1.0))
    p[:, 100:140] = np.array([0, 0, 1])[:, None, None]
    rows = silhouette_points(p, EDGE_REACH_U).reader_rows
    gone = edge_row_of_reader(np.arange(100, 140))
    assert len(rows) == EDGE_ROWS - 40
    assert not np.isin(gone, rows).any()


@pytest.mark.parametrize("all_shaft", [True, False])
def test_no_border_no_point(all_shaft: bool) -> None:
    p = classes(np.full(EDGE_ROWS, 5.0 if all_shaft else 0.0))
    assert len(silhouette_points(p, EDGE_REACH_U).u) == 0


def test_a_soft_border_has_a_larger_sigma() -> None:
    sharp = silhouette_points(classes(np.full(EDGE_ROWS, 1.0)), EDGE_REACH_U)
    soft = silhouette_points(classes(np.full(EDGE_ROWS, 1.0), width_u=8 * COLUMN_U), EDGE_REACH_U)
    assert np.median(soft.sd_u) > 2 * np.median(sharp.sd_u)


def test_a_reflection_beside_the_edge_does_not_bend_the_line() -> None:
    true = np.full(EDGE_ROWS, 1.0)
    true[40:90] = 0.9
    line = inliers(silhouette_points(classes(true), EDGE_REACH_U), EDGE_REACH_U)
    assert len(line.u) == EDGE_ROWS - 50
    assert np.abs(line.u - 1.0).max() < INLIER_COLUMNS * COLUMN_U


def test_reader_rows_of_edge_rows() -> None:
    """Four rows of 0.25 mm make one of 1 mm: the first one's middle is at row 1.5."""
    np.testing.assert_allclose(edge_row_of_reader(np.array([0, 1])), [1.5, 5.5])


def edge(columns_wide: float, scatter_u: float = 0.0, points: int = POINTS) -> SilhouettePoints:
    """Points every millimetre, this soft, every other one this much to either side of their line."""
    rows = 4.0 * np.arange(points)
    u = 1.0 + scatter_u * np.where(np.arange(len(rows)) % 2, 1.0, -1.0)
    return SilhouettePoints(rows, u, np.full(len(rows), columns_wide * COLUMN_U / np.sqrt(12)))


def together_px(sigma_px: tuple[float, float], points: int = POINTS) -> float:
    """Compute the errors of an edge's middle: as a whole, and of the mean of its points."""
    whole_px, point_px = sigma_px
    return float(np.hypot(whole_px, point_px / np.sqrt(points)))


def test_a_sharp_straight_edge_has_the_floor_of_sigma() -> None:
    whole_px, _ = side_sigma_px(edge(SHARPEST_TRANSITION_COLUMNS), FRAME, fine=False)
    # The rest of it is in the points, which tilt (below).
    assert whole_px == pytest.approx(COARSE_SIGMA.floor_px * np.sqrt(1 - TILT_SHARE**2 / 3))


def test_an_edge_may_be_tilted() -> None:
    """Sigma of the end of a line through n evenly spread points: sqrt(3 / n) of one point (least squares; large n)."""
    sigma_px = side_sigma_px(edge(SHARPEST_TRANSITION_COLUMNS + 4), FRAME, fine=False)
    _, point_px = sigma_px
    rows = np.linspace(-1.0, 1.0, POINTS)
    lines = np.polyfit(rows, np.random.default_rng(1).normal(0, point_px, (POINTS, 4000)), 1)
    assert lines[0].std() == pytest.approx(TILT_SHARE * together_px(sigma_px), rel=0.05)


def test_few_points_are_correlated() -> None:
    _, point_px = side_sigma_px(edge(SHARPEST_TRANSITION_COLUMNS, points=6), FRAME, fine=False)
    # Uniform over one column (by hand), as often as points are correlated.
    own_px = COLUMN_U * PX_PER_RADIUS / np.sqrt(12)
    assert point_px == pytest.approx(own_px * np.sqrt(CORRELATION_LENGTH_MM / EDGE_STEP_MM))


def test_a_soft_or_a_ragged_edge_has_a_larger_sigma() -> None:
    """The root of the sum of squares of what the module says; by hand."""
    soft_px = together_px(side_sigma_px(edge(SHARPEST_TRANSITION_COLUMNS + 4), FRAME, fine=False))
    own_px = COARSE_SIGMA.transition_factor * 4 * COLUMN_U * PX_PER_RADIUS
    assert soft_px == pytest.approx(np.hypot(COARSE_SIGMA.floor_px, own_px))
    ragged_px = together_px(
        side_sigma_px(edge(SHARPEST_TRANSITION_COLUMNS, scatter_u=0.01), FRAME, fine=False)
    )
    assert ragged_px == pytest.approx(
        np.hypot(COARSE_SIGMA.floor_px, COARSE_SIGMA.scatter_factor * 0.01 * PX_PER_RADIUS), rel=0.01
    )


@pytest.mark.parametrize("fine", [False, True])
def test_points_lie_where_the_view_shows_them(fine: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A border a tenth of the view beyond its middle, on either side; a fine view of this shaft reaches 16 px."""
    reach = 16 / PX_PER_RADIUS if fine else EDGE_REACH_U
    seen = classes(np.full(EDGE_ROWS, 1 + 0.2 * EDGE_REACH_U))

    def answer(views: tuple[np.ndarray, ...], diameter_mm: float, fine_asked: bool) -> np.ndarray:
        assert fine_asked is fine and diameter_mm == 40.0
        return np.stack([seen, seen])

    monkeypatch.setattr(edges, "silhouette_class_probabilities", answer)
    sides = EdgeSearch(np.zeros((40, 30, 3), np.uint8), (0, EDGE_ROWS), 40.0).sides(FRAME, fine)
    for side in sides:
        seen_u = side.edge.u - SILHOUETTE_BIAS_U
        np.testing.assert_allclose(seen_u, 1 + 0.2 * reach, atol=0.1 * edge_column_u(reach))
        off_axis = FRAME.cylinder.axis_distance_mm(FRAME.camera.rays(side.points_px))
        # In the plane through the axis, square to the line of sight to it.
        np.testing.assert_allclose(np.abs(off_axis), 20 * side.edge.u, rtol=2e-3)


@pytest.mark.parametrize("fine", [False, True])
def test_the_bias_of_the_network_is_corrected(fine: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the network's border is at the silhouette itself, the edge lies farther out, on both sides alike."""
    border = classes(np.full(EDGE_ROWS, 1.0))  # in the middle of either view
    monkeypatch.setattr(edges, "silhouette_class_probabilities", lambda *_: np.stack([border, border]))
    left, right = EdgeSearch(np.zeros((4000, 3000, 3), np.uint8), (0, EDGE_ROWS), 40.0).sides(FRAME, fine)
    for side in (left, right):
        np.testing.assert_allclose(side.edge.u, 1 + SILHOUETTE_BIAS_U, atol=1e-6)
    # On a tube of 150 px a radius a tenth of a pixel, within a silhouette's own sigma.
    assert SILHOUETTE_BIAS_U * PX_PER_RADIUS < SILHOUETTE_SD_PX

"""The wall of a clamp or foot seen from behind, on made-up views; what is expected follows from how they were made."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, bands, part_map
from vision.geometry.views import READER_ROWS
from vision.networks.classes import Part
from vision.reading import Layout
from vision.rims.candidates import find_borders
from vision.rims.points import SQUARE_ON_SLANT, far_points, refined_rim_points, refinement_candidate
from vision.rims.refine import RefinedRim
from vision.rims.wall import THICKEST_MM, UNSEEN_MM, UNSEEN_SD_MM, WALL_SD_MM

RADIUS_MM = 20.0
COLUMN_MM = RADIUS_MM * float(np.diff(FRAME.u())[0])
# Nearer to the seal than where the camera stands (row 512): the far end is seen from behind.
FAR_ROW = 300


def foot(left_mm: float, right_mm: float, arc_rows: int = 0) -> np.ndarray:
    """Classes of a shaft that ends in a foot which stands out by so much at either side."""
    p = bands((Part.SEAL, 100), (Part.SHAFT, READER_ROWS))
    u, row = FRAME.u(), np.arange(READER_ROWS)[:, None]
    wide = np.where(u < 0, -u * RADIUS_MM < RADIUS_MM + left_mm, u * RADIUS_MM < RADIUS_MM + right_mm)
    # Seen from behind, its edge crosses the middle of the shaft before the silhouettes.
    end = FAR_ROW + np.rint(arc_rows * (1 - np.sqrt(1 - np.clip(np.abs(u), 0, 1) ** 2))).astype(int)
    seen = (row >= end) & wide
    p[:, seen] = 0.001
    p[Part.FAR_END, seen] = 0.994
    return p


def height(classes: np.ndarray, layout: Layout = Layout.UPSIDE_DOWN_FORK) -> tuple[float, float]:
    parts = part_map(classes)
    rims = find_borders(parts).rims((Part.SHAFT,), (Part.FAR_END,))
    points = far_points(rims[0], parts, layout)
    assert points is not None
    return points.height_mm, points.height_sd_mm


@pytest.mark.parametrize("arc_rows", [0, 12])
def test_walls_to_either_side_tell_of_the_one_in_front(arc_rows: int) -> None:
    """5 and 9 mm: 7 on average. The walls are looked at beyond an edge that is an arc, not within it."""
    wall_mm, sd_mm = height(foot(5.0, 9.0, arc_rows))
    assert wall_mm == pytest.approx(7.0, abs=0.5 * COLUMN_MM + 0.5) and sd_mm == WALL_SD_MM


def test_what_leads_to_the_other_leg_is_no_wall() -> None:
    assert height(foot(6.0, 2 * THICKEST_MM), Layout.FORK)[0] == pytest.approx(6.0, abs=COLUMN_MM)
    assert height(foot(2 * THICKEST_MM, 2 * THICKEST_MM), Layout.FORK) == (UNSEEN_MM, UNSEEN_SD_MM)


def test_a_foot_no_wider_than_the_shaft_has_no_height() -> None:
    assert height(foot(-2.0, -1.0))[0] == 0.0


@pytest.mark.parametrize("arc_rows", [0, 12])
def test_a_bumpers_height_is_read_beyond_its_arc(arc_rows: int) -> None:
    """Within the arc the bumper is no wider than the shaft, and seemed to lie against it."""
    assert height(foot(5.0, 5.0, arc_rows), Layout.SHOCK)[0] == pytest.approx(5.0, abs=COLUMN_MM)


@pytest.mark.parametrize(("row", "refined"), [(300, False), (460, False), (500, True), (600, True)])
def test_an_end_is_refined_unless_its_wall_hides_it(row: int, refined: bool) -> None:
    """Rows of 0.25 mm, the camera 400 mm away at row 512: tangents of 0.13, 0.03, 0.008 and -0.06; limit 0.02."""
    parts = part_map(bands((Part.SEAL, 100), (Part.SHAFT, row), (Part.FAR_END, READER_ROWS)))
    (rim,) = find_borders(parts).rims((Part.SHAFT,), (Part.FAR_END,))
    assert (parts.frame.cylinder.slant(rim.s_mm) < SQUARE_ON_SLANT) is refined
    points = far_points(rim, parts, Layout.UPSIDE_DOWN_FORK)
    target = refinement_candidate(points, rim, parts.frame)
    assert (target is not None) is refined
    if target is not None and points is not None:
        moved = refined_rim_points(points, target, RefinedRim(rim.s_mm + 0.2, 0.3), parts.frame)
        assert (moved.height_mm, moved.height_sd_mm) == (points.height_mm, points.height_sd_mm)

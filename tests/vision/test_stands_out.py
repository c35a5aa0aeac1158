"""How far a band stands out: made-up views in which columns, 1.5 mm each on a radius of 20 mm, are counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, bands, part_map
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout
from vision.reasons import Reason
from vision.rims.candidates import find_borders
from vision.rims.choose import choose
from vision.rims.stands_out import stands_out_mm

SEAL, FAR = 300, 800
COLUMN_MM = 2 * 2.4 / 64 * 20.0


def view(*rings: tuple[int, int, int]) -> np.ndarray:
    """Make a shaft 26 columns wide with bands of 14 rows: first row, columns beyond it to the left and right."""
    p = bands((Part.SEAL, SEAL), (Part.SHAFT, FAR), (Part.FAR_END, 900), (Part.ELSE, 1024))
    beside = np.r_[0:19, 45:64]
    p[:, SEAL:FAR, beside] = 0.001
    p[Part.ELSE, SEAL:FAR, beside] = 0.994
    for row, left, right in rings:
        p[:, row : row + 14, 19 - left : 45 + right] = 0.001
        p[Part.MARKER, row : row + 14, 19 - left : 45 + right] = 0.994
    return p


@pytest.mark.parametrize("left, right", [(1, 1), (2, 1), (0, 0), (-3, -2)])
def test_columns_beyond_the_shaft_are_counted(left: int, right: int) -> None:
    parts = part_map(view((500, left, right)))
    found = find_borders(parts)
    near = found.rims((Part.SHAFT,), (Part.MARKER,))[0]
    end = found.rims((Part.MARKER,), (Part.SHAFT,))[0]
    assert stands_out_mm(parts, near, end) == pytest.approx((left + right) / 2 * COLUMN_MM, abs=0.1)
    assert stands_out_mm(parts, near, None) == pytest.approx((left + right) / 2 * COLUMN_MM, abs=0.1)


def test_a_side_that_something_covers_tells_nothing() -> None:
    p = view((500, 1, 1))
    p[:, 460:560, 40:50] = 0.001
    p[Part.IN_FRONT, 460:560, 40:50] = 0.994
    parts = part_map(p)
    near = find_borders(parts).rims((Part.SHAFT,), (Part.MARKER,))[0]
    assert stands_out_mm(parts, near, None) == pytest.approx(COLUMN_MM, abs=0.1)
    p[:, 460:560, 14:24] = p[:, 460:560, 40:50]
    assert stands_out_mm(part_map(p), near, None) is None


def test_a_ring_of_grease_is_no_rival_of_a_marker() -> None:
    """Two that stand out leave it open; of one that does and one that does not, the former is the marker."""
    two = choose(part_map(view((400, 1, 1), (600, 1, 1))), Layout.FORK, None)
    assert Reason.MARKER_UNCLEAR in {note.reason for note in two.notes}
    one = choose(part_map(view((400, 0, 0), (600, 1, 1))), Layout.FORK, None)
    assert not one.notes
    marker = FRAME.cylinder.unroll(FRAME.camera.rays(one.rims[RimName.MARKER_NEAR].points_px))[0]
    # Row 600 lies 22 mm beyond the middle of the view, 5 % less on the shaft's near side.
    assert np.median(marker) == pytest.approx(0.95 * 22.0, abs=0.5)


def test_what_does_not_reach_round_the_shaft_is_no_marker() -> None:
    found = choose(part_map(view((500, -2, -2))), Layout.FORK, None)
    assert Reason.NO_MARKER in {note.reason for note in found.notes}
    assert RimName.MARKER_NEAR in choose(part_map(view((500, 0, 0))), Layout.FORK, None).rims

"""Close views of marked photographs, made of a drawn picture whose edges are known by construction."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "training"))

import hand_marks
import near_marks
import snap_marks

from vision.geometry.views import EDGE_COLUMNS, EDGE_REACH_U, EDGE_ROWS, edge_column_u

# A bright shaft of radius 30 px, its axis at x = 99.5, bare from y = 60 to 240, between a dark seal and a grey foot.
LEFT, RIGHT, TOP, BOTTOM = 69.5, 129.5, 59.5, 239.5


def _picture() -> np.ndarray:
    picture = np.full((300, 200, 3), 40, np.uint8)
    picture[60:240, 70:130] = (200, 205, 210)
    picture[:60, 64:136] = 15
    picture[240:, 66:134] = 110
    return picture


def _marks(off_px: float = 0.0) -> dict[str, Any]:
    """Mark it as a hand does, each mark off by so much outwards."""
    return {
        "name": "a", "file": "a.png", "diameter_mm": 40.0,
        "edges": [[[LEFT - off_px, 70], [LEFT - off_px, 230]], [[RIGHT + off_px, 70], [RIGHT + off_px, 230]]],
        "seal": [99.5, TOP - off_px], "far": [99.5, BOTTOM + off_px], "seal_body": [2.0, 1.2], "far_body": [1.0, 1.0],
        "clear": [0.4, 0.4],
    }  # fmt: skip


def _copy(raw: dict[str, Any]) -> near_marks.Copy:
    return near_marks.Copy(_picture(), hand_marks.marked(raw), None, 40.0)


def test_marks_move_to_the_steepest_step() -> None:
    shaft = hand_marks.marked(snap_marks.snapped(_picture(), _marks(1.2)))
    assert shaft.raw["edge_known"] == [True, True]
    # one step of the search
    assert shaft.radius_px == pytest.approx(30.0, abs=0.11)
    ends = [float(shaft.at(np.array(t), np.array(0.0))[1]) for t in shaft.ends_px]
    np.testing.assert_allclose(ends, [TOP, BOTTOM], atol=0.11)


def test_a_line_that_no_edge_follows_is_not_known() -> None:
    raw = _marks()
    raw["edges"][0] = [[LEFT - 9, 70], [LEFT + 9, 230]]
    assert snap_marks.snapped(_picture(), raw)["edge_known"] != [True, True]


def test_a_side_at_which_nothing_changes_is_not_known() -> None:
    picture = _picture()
    picture[60:240, :70] = picture[100, 100]  # as bright beside the shaft as on it
    assert snap_marks.snapped(picture, _marks())["edge_known"] == [False, True]


def test_points_of_such_a_side_are_labelled_unknown() -> None:
    raw = snap_marks.snapped(_picture(), _marks()) | {"edge_known": [False, True]}
    _, labels = near_marks.edge_views(_copy(raw), (0.0, 0.0, 0.0), EDGE_REACH_U, np.random.default_rng(1))
    known = (labels != hand_marks.UNKNOWN).any(axis=(1, 2))
    assert sorted(known.tolist()) == [False, True]


def test_labels_of_silhouettes_lie_where_the_picture_changes() -> None:
    copy = _copy(snap_marks.snapped(_picture(), _marks()))
    views, labels = near_marks.edge_views(copy, (0.0, 0.0, 0.0), EDGE_REACH_U, np.random.default_rng(1))
    assert views.shape == (2, EDGE_ROWS, EDGE_COLUMNS, 3) and labels.shape == (2, EDGE_ROWS, EDGE_COLUMNS)
    known = (labels != hand_marks.UNKNOWN).all(axis=2)
    assert 2 * 90 < known.sum() < 2 * 121  # 120 mm are bare
    inside = (labels[known] & 7).sum(axis=1) / near_marks.SAMPLES_OF_A_POINT
    # Between two pixels the view shows a ramp: its middle value, 122, lies on the edge.
    bright = np.array(
        [np.interp(-122, -one[:, 0].astype(float), np.arange(EDGE_COLUMNS) + 0.5) for one in views[known]]
    )
    px = 1 / (30 * edge_column_u(EDGE_REACH_U))
    np.testing.assert_allclose(bright, inside, atol=0.15 * px + 0.26)


def test_labels_of_rims_lie_where_the_picture_changes() -> None:
    copy = _copy(snap_marks.snapped(_picture(), _marks()))
    views, labels, slants = near_marks.rim_views(copy, np.random.default_rng(2))
    assert views.shape == (4, 96, 48, 3) and slants.shape == (4,)
    for kind, step_mm in ((0, 0.08), (3, 0.16)):
        side, bare = labels[kind] % 5 / 4, labels[kind] // 25 / 4
        middle = slice(18, 30)
        row = (1 - side[:, middle]).sum(axis=0).mean()
        seen = views[kind][:, middle, 0].astype(float).mean(axis=1)
        half = 0.5 * (seen[:3].mean() + seen[-3:].mean())
        first = float(np.interp(half, seen, np.arange(96) + 0.5))
        # a quarter of a pixel (1.5 px a mm)
        assert abs(row - first) * step_mm < 0.25 / 1.5
        assert (bare[side == 0] == 0).all() and bare[-10:, middle].mean() > 0.9
    # no band was drawn: nothing is labelled, all is "in front"
    assert (labels[1:3] // 5 % 5 == 4).all()


def test_copies_keep_marks_and_pixels_together() -> None:
    rng = np.random.default_rng(3)
    raw = snap_marks.snapped(_picture(), _marks())
    for _ in range(6):
        copy = near_marks.copied(_picture(), raw, rng, with_band=False)
        views, labels = near_marks.edge_views(copy, (0.0, 0.0, 0.0), EDGE_REACH_U, rng)
        row = EDGE_ROWS // 2
        seen = views[:, row - 10 : row + 10].astype(float).mean(axis=(1, 3))
        inside = (
            np.median((labels[:, row - 10 : row + 10] & 7).sum(axis=2), axis=1)
            / near_marks.SAMPLES_OF_A_POINT
        )
        for one, place in zip(seen, inside, strict=True):
            half = 0.5 * (one[:6].mean() + one[-6:].mean())
            found = float(np.interp(-half, -np.minimum.accumulate(one), np.arange(EDGE_COLUMNS) + 0.5))
            # half a pixel of the copy: noise, JPEG, and that light and code values differ
            assert abs(found - place) * edge_column_u(EDGE_REACH_U) * copy.shaft.radius_px < 0.6

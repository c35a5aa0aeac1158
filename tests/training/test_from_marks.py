"""Marks of a hand become the view that the program itself samples, with labels where the marks say."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from calibration.camera import Camera
from vision.geometry.cylinder import Cylinder
from vision.geometry.views import READER_ROWS, READER_STEP_MM, ReaderFrame, reader_u
from vision.networks.classes import Part

sys.path.insert(0, str(Path(__file__).parents[2] / "training"))

import drawn_bands
import from_marks
import hand_marks

CAMERA = Camera.centred(2000.0, 1600, 1200)
LENGTH_MM = 90.0


def _cylinder(turn_deg: float, away_deg: float) -> Cylinder:
    """Put a shaft of 40 mm half a metre before the camera, turned in the picture and running away from it."""
    turn, away = np.radians([turn_deg, away_deg])
    axis = np.array([np.sin(turn) * np.cos(away), np.cos(turn) * np.cos(away), np.sin(away)])
    return Cylinder(np.array([5.0, -3.0, 500.0]) - 0.5 * LENGTH_MM * axis, axis, 20.0)


def _marks(shaft: Cylinder) -> dict[str, Any]:
    """Mark the true silhouettes, and the axis between the two ends."""
    s = np.array([0.0, LENGTH_MM])
    edges = [CAMERA.project(shaft.surface(s, np.full(2, side * shaft.silhouette_phi()))) for side in (1, -1)]
    ends = CAMERA.project(shaft.point_cam + s[:, None] * shaft.axis_cam)
    return {
        "name": "a", "file": "a.png", "diameter_mm": 40.0, "edges": [e.tolist() for e in edges],
        "seal": ends[0].tolist(), "far": ends[1].tolist(),
    }  # fmt: skip


@pytest.mark.parametrize("turn_deg", [0.0, 25.0, 160.0, -100.0])
def test_views_lie_where_the_programs_views_lie(turn_deg: float) -> None:
    shaft = _cylinder(turn_deg, 0.0)
    ours = from_marks.positions_of(hand_marks.marked(_marks(shaft)), from_marks.Variant(40.0, 0.0))
    frame = ReaderFrame(shaft, CAMERA, 0.5 * LENGTH_MM - 0.5 * (READER_ROWS - 1) * READER_STEP_MM)
    rows, columns = np.arange(0, READER_ROWS, 31), np.arange(0, 64, 7)
    theirs = CAMERA.project(frame.points_cam(rows[:, None], reader_u(columns)[None, :]))
    # 4 px a millimetre: one row's step at the ends of 256 mm, since silhouettes lie nearer than the axis (0.1 %)
    assert np.abs(ours[np.ix_(rows, columns)] - theirs).max() < 1.1


def test_rows_of_a_shaft_that_runs_away_draw_nearer() -> None:
    shaft = _cylinder(25.0, 30.0)
    ours = from_marks.positions_of(hand_marks.marked(_marks(shaft)), from_marks.Variant(40.0, 0.0))
    frame = ReaderFrame(shaft, CAMERA, 0.5 * LENGTH_MM - 0.5 * (READER_ROWS - 1) * READER_STEP_MM)
    rows = np.array([330, 694])  # 45 mm to either side of the middle
    theirs, steps = [], []
    for row in rows:
        pair = np.array([row, row + 20])
        theirs.append(np.linalg.norm(np.diff(CAMERA.project(frame.points_cam(pair, np.zeros(1))), axis=0)))
        steps.append(np.linalg.norm(np.diff(ours[pair, 32], axis=0)))
    # the marks know no tilt: steps are longer by 1 / cos 30 degrees, their ratio is perspective's but for its square
    assert steps[1] / steps[0] == pytest.approx(np.sqrt(theirs[1] / theirs[0]), abs=0.03)
    assert steps[1] < 0.97 * steps[0]


def _upright(**more: Any) -> dict[str, Any]:
    """Mark a shaft of radius 20 px at x = 100, its seal at y = 50, its far end at y = 150."""
    return {
        "name": "a", "file": "a.png", "diameter_mm": 40.0, "edges": [[[80, 60], [80, 140]], [[120, 60], [120, 140]]],
        "seal": [100, 50], "far": [100, 150], "seal_body": [2.0, 1.2], "far_body": [1.0, 1.0], "clear": [0.0, 0.5],
    } | more  # fmt: skip


def _labels(raw: dict[str, Any], *places: tuple[float, float]) -> list[int]:
    return [int(one) for one in hand_marks.labels(hand_marks.marked(raw), np.array(places, float))]


def test_labels_say_what_the_marks_settle_and_nothing_else() -> None:
    unknown = hand_marks.UNKNOWN
    assert _labels(_upright(), (100, 100), (117, 100), (119.5, 100), (126, 100), (131, 100), (74, 100)) == [
        Part.SHAFT, Part.SHAFT, unknown, Part.ELSE, unknown, unknown,
    ]  # fmt: skip
    assert _labels(_upright(), (100, 40), (122, 40), (126, 40), (100, 9), (100, 50.3), (100, 160), (100, 171)) == [
        Part.SEAL, Part.SEAL, unknown, unknown, unknown, Part.FAR_END, unknown,
    ]  # fmt: skip
    # Beside the shaft's middle a bend may hide what the mark says: a whole pixel either way.
    assert _labels(_upright(), (100, 50.5), (115, 50.5), (115, 51.5)) == [Part.SHAFT, unknown, Part.SHAFT]
    box = [[90, 90], [110, 90], [110, 110], [90, 110]]
    places = ((100.0, 100.0), (100.0, 89.5), (100.0, 85.0))
    assert _labels(_upright(in_front=[box]), *places) == [Part.IN_FRONT, unknown, Part.SHAFT]
    assert _labels(_upright(unknown=[box]), *places) == [unknown, unknown, Part.SHAFT]


def test_a_hidden_end_is_none() -> None:
    raw = _upright(far=None, far_limit=[100, 130])
    assert _labels(raw, (100, 125), (100, 140), (100, 160)) == [Part.SHAFT] + 2 * [hand_marks.UNKNOWN]
    with pytest.raises(ValueError, match="where does bare shaft end"):
        hand_marks.marked(_upright(far=None))


def test_rims_are_arcs() -> None:
    raw = _upright(bend=10.0)
    # at u = 0.8 a rim lies 10 (1 - sqrt(1 - 0.64)) = 4 px nearer to the far end
    assert _labels(raw, (116, 52), (116, 56), (116, 148), (100, 152)) == [
        Part.SEAL, Part.SHAFT, Part.SHAFT, Part.FAR_END,
    ]  # fmt: skip


def test_what_is_clear_stays_so_where_the_seal_lies_below() -> None:
    raw = _upright(seal=[100, 150], far=[100, 50])
    shaft = hand_marks.marked(raw)
    assert shaft.along == pytest.approx([0, -1])
    assert shaft.places(np.array([110.0, 100.0]))[1] == pytest.approx(-0.5)
    assert _labels(raw, (126, 100), (74, 100), (100, 160), (100, 40)) == [
        Part.ELSE, hand_marks.UNKNOWN, Part.SEAL, Part.FAR_END,
    ]  # fmt: skip


def test_marks_move_with_an_enlarged_part() -> None:
    pixels = np.random.default_rng(1).integers(0, 255, (400, 500, 3), dtype=np.uint8)
    raw = _upright(bend=3.0, unknown=[[[90, 90], [110, 90], [110, 110]]])
    part, moved = hand_marks.part_round(pixels, raw, 50.0)
    before, after = hand_marks.marked(raw), hand_marks.marked(moved)
    assert after.radius_px == pytest.approx(50.0, rel=0.01)
    assert after.mark_px == pytest.approx(2.5, rel=0.01)
    t, u = np.meshgrid(np.linspace(-60, 60, 41), np.linspace(-1.5, 1.5, 31))
    a, b = (hand_marks.labels(s, s.at(f * t, u)) for s, f in ((before, 1.0), (after, 2.5)))
    assert (a == b).mean() > 0.98
    assert part.shape[1] > 2 * 200


def test_a_band_is_labelled_where_it_is_painted() -> None:
    pixels = np.full((200, 200, 3), 128, np.uint8)
    shaft = hand_marks.marked(_upright())
    band = drawn_bands.Band(10.0, 4.0, 0.1, (0.9, 0.02, 0.02), False, 1.5, 5.0, 0.2, 0.4)
    painted = drawn_bands.painted(pixels, shaft, band, np.random.default_rng(1))
    y, x = np.mgrid[0:200, 0:200]
    label = drawn_bands.labelled(
        np.full((200, 200), Part.SHAFT, np.uint8), shaft, band, np.stack([x, y], axis=-1) * 1.0
    )
    red = painted[..., 0].astype(int) - painted[..., 1] > 40
    drawn = label != Part.SHAFT
    assert (red & drawn).sum() / (red | drawn).sum() > 0.8
    assert {Part.MARKER, Part.LOCK} == set(np.unique(label[drawn]))
    # 8 px of the axis from y = 106, 1.1 radii to either side; the lock beyond one silhouette
    assert np.flatnonzero(label[:, 100] == Part.MARKER).tolist() == list(range(107, 114))
    assert np.flatnonzero(label[110] == Part.LOCK).min() >= 118


def test_a_file_holds_what_training_takes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(2)
    Image.fromarray(rng.integers(0, 255, (200, 200, 3), dtype=np.uint8)).save(tmp_path / "a.png")
    (tmp_path / "marks.json").write_text(json.dumps([_upright()]))
    out = tmp_path / "a.npz"
    monkeypatch.setattr(
        sys, "argv", ["from_marks", str(tmp_path / "marks.json"), "--out", str(out), "--variants", "3"]
    )
    from_marks.main()
    with np.load(out) as found:
        assert found["reader"].shape == (3, 1024, 64, 3)
        labels, rows = found["reader_label"], found["reader_card_row"]
        assert set(found["source"]) == {"a.png"}
        assert found["diameter_mm"] == pytest.approx(np.full(3, 40.0), rel=0.5)
    present = set(np.unique(labels).tolist())
    assert {
        int(Part.SHAFT),
        int(Part.SEAL),
        int(Part.FAR_END),
        int(Part.MARKER),
        hand_marks.UNKNOWN,
    } <= present
    # 100 px of 1 px a millimetre, whatever diameter is declared: the bare run is 100 mm times its error long
    for label, row in zip(labels, rows, strict=True):
        run = np.flatnonzero((label[:, 31:33] == Part.SHAFT).any(axis=1))
        assert np.ptp(run) * READER_STEP_MM == pytest.approx(97.0, rel=0.5)
        assert abs(row - run.mean()) * READER_STEP_MM < 40.0
    assert np.flatnonzero((labels == Part.SEAL).any(axis=(0, 2))).max() < np.flatnonzero(
        (labels == Part.FAR_END).any(axis=(0, 2))
    ).min()  # fmt: skip

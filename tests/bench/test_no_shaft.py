"""Cards drawn into photographs: where OpenCV's own board is drawn, the project's detector finds it there."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from bench.bars import bars, beside
from bench.drawn_card import HIGH_MM, WIDE_MM, Placed, card_picture, drawn_in, somewhere
from bench.no_shaft import Look, main, report
from calibration.find_card import find_card


def grey_scene(wide: int = 1600, high: int = 1200) -> np.ndarray:
    rng = np.random.default_rng(5)
    noise = rng.normal(120, 3, (high, wide, 1))
    return np.broadcast_to(np.clip(noise, 0, 255), (high, wide, 3)).astype(np.uint8)


def test_a_drawn_card_lies_where_it_was_put() -> None:
    rng = np.random.default_rng(1)
    corners = somewhere((1600, 1200), rng, (0.5, 0.6))
    picture = drawn_in(grey_scene(), card_picture(23), Placed(corners, 30, 220, 0.8, 1.0), rng)
    seen = find_card(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY))
    assert seen.number == 23
    # Inner corner k = 2 j + i lies 12 mm (i + 1), 12 mm (j + 1) from the board's corner, 5 mm inside the card.
    outline = np.array([[0, 0], [WIDE_MM, 0], [WIDE_MM, HIGH_MM], [0, HIGH_MM]], np.float32)
    to_px = cv2.getPerspectiveTransform(outline, corners.astype(np.float32))
    mm = np.array([[5 + 12 * (k % 2 + 1), 5 + 12 * (k // 2 + 1)] for k in seen.corner_ids], np.float32)
    expected = cv2.perspectiveTransform(mm[None], to_px)[0]
    assert len(mm) >= 24
    assert np.abs(expected - seen.corners_px).max() < 0.15


def test_a_card_lies_beside_a_bar_to_its_scale() -> None:
    picture = grey_scene()
    start, end, width = np.array([300, 200]), np.array([1250, 900]), 180
    cv2.line(picture, tuple(start.tolist()), tuple(end.tolist()), (30, 30, 30), width)
    bar = bars(picture)[0]
    along = (end - start) / np.linalg.norm(end - start)
    assert abs(float(bar.along[0] * along[1] - bar.along[1] * along[0])) < 0.02
    assert bar.width_px == pytest.approx(width, abs=4)
    corners = beside(bar, 45.0, (1600, 1200))
    assert corners is not None
    # 46 mm wide and 178 mm long where the bar's 180 px are 45 mm, and clear of the bar.
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    assert sides[[0, 1]] == pytest.approx(np.array([WIDE_MM, HIGH_MM]) * bar.width_px / 45, rel=1e-6)
    across = np.array([-along[1], along[0]])
    assert np.abs((corners - start) @ across).min() > width / 2
    assert beside(bar, 95.0, (1600, 1200)) is None, "below the scale at which a card is read"


def test_a_photograph_without_a_shaft_is_not_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = grey_scene()
    cv2.line(picture, (300, 200), (1250, 900), (30, 30, 30), 180)
    Image.fromarray(picture).save(tmp_path / "bar.png")
    assert main([str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1].endswith("invented 0")


def test_an_answer_is_named() -> None:
    look = Look("a.jpg", "fork", True, 41.0, "partial", "marker_uncertain", 3, ("exposed_mm 80.0 ± 1.0",))
    lines = list(report([look]))
    assert "invented 1" in lines[-2] and "exposed_mm 80.0" in lines[-1]

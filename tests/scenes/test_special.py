"""The photos of special cases against the scenes that they show."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from scenes.camera import card_corners_mm
from scenes.shots import facts
from scenes.special import SHOTS

PHOTOS = Path(__file__).parents[1] / "vision" / "photos"


def test_every_shot_has_its_photo_and_the_other_way_round() -> None:
    assert {p.stem for p in PHOTOS.glob("*.jpg")} == set(SHOTS) == {p.stem for p in PHOTOS.glob("*.json")}


@pytest.mark.parametrize("name", sorted(SHOTS))
def test_truth_beside_a_photo_is_that_of_its_scene(name: str) -> None:
    shot = SHOTS[name]()
    there = json.loads((PHOTOS / f"{name}.json").read_text(encoding="utf-8"))
    for key, value in json.loads(json.dumps(facts(shot, shot.camera()))).items():
        if key.endswith(("_mm", "_px")) and value is not None:
            np.testing.assert_allclose(there[key], value, atol=0.02, err_msg=key)
        elif key.endswith("_visible"):
            assert there[key] == pytest.approx(value, abs=0.04), key  # one of 32 rays
        else:
            assert there[key] == value, key


@pytest.mark.parametrize("name", ["plain", "seal-right", "cropped-off-centre", "card-backwards"])
def test_card_lies_in_the_photo_where_the_scene_has_it(name: str) -> None:
    """OpenCV's own search for the board against the projected corners."""
    from scenes.board import opencv_board

    shot = SHOTS[name]()
    grey = cv2.imread(str(PHOTOS / f"{name}.jpg"), cv2.IMREAD_GRAYSCALE)
    assert grey is not None
    corners, ids, _, _ = cv2.aruco.CharucoDetector(opencv_board(3)).detectBoard(grey)
    assert ids is not None and len(ids) > 20
    left, top = shot.crop_px[:2] if shot.crop_px else (0, 0)
    expected = shot.camera().project(card_corners_mm(shot.drawn.scene))[ids.ravel()] - [left, top]
    assert np.abs(corners.reshape(-1, 2) - expected).max() < 0.5

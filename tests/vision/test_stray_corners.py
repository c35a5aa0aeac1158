"""Corners that something on the card moves are left out, and no others: against corners that OpenCV projects."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.camera import Camera
from calibration.find_card import CardSighting
from calibration.pose import card_points_mm, rotation
from vision.adjustment.observations import CENTRE_SD_PX, PriorInputs
from vision.adjustment.stray_corners import without_stray_corners

FOCAL_PX, WIDE, HIGH = 1500.0, 1000, 1400


def sighting(seed: int, noise_px: float, bend_mm: float = 0.0) -> CardSighting:
    """Project all corners as OpenCV does, from a card rolled on a circular cylinder, and add normal errors."""
    rng = np.random.default_rng(seed)
    points = card_points_mm(np.arange(26), 1.0, 1.0)
    if bend_mm:
        radius = 84.0**2 / 2 / bend_mm
        angle = (points[:, 1] - 84.0) / radius
        points[:, 1] = 84.0 + radius * np.sin(angle)
        points[:, 2] = radius * (np.cos(angle) - 1)
    turn = rng.normal(0, 0.2, 3)
    matrix = np.array([[FOCAL_PX, 0, (WIDE - 1) / 2], [0, FOCAL_PX, (HIGH - 1) / 2], [0, 0, 1]])
    shift = np.array([0.0, 0.0, 350.0]) - rotation(turn) @ points.mean(axis=0)
    lens = np.array([rng.normal(0, 0.015), 0, 0, 0, 0])
    px = cv2.projectPoints(points, turn, shift, matrix, lens)[0][:, 0]
    return CardSighting(1, np.arange(26), px + rng.normal(0, noise_px, px.shape), 21, (), 0.5, 4.0)


def cleaned(card: CardSighting, focal_px: float = FOCAL_PX) -> CardSighting:
    camera = Camera.centred(focal_px, WIDE, HIGH)
    return without_stray_corners(card, camera, PriorInputs(41.0, 0.02), CENTRE_SD_PX, reshaped=False)


def moved(card: CardSighting, which: list[int], by_px: tuple[float, float]) -> CardSighting:
    px = card.corners_px.copy()
    px[which] += by_px
    return replace(card, corners_px=px)


@pytest.mark.parametrize("which", [[0], [25], [12], [24, 25], [3, 8, 17]])
@pytest.mark.parametrize("noise_px", [0.05, 0.12])
def test_corners_that_were_moved_are_left_out(which: list[int], noise_px: float) -> None:
    kept = cleaned(moved(sighting(3, noise_px), which, (1.2, -0.5)))
    lost = set(range(26)) - set(kept.corner_ids.tolist())
    # Three that agree with each other may take a neighbour along.
    assert set(which) <= lost and len(lost) <= len(which) + 2 * (len(which) > 2)
    assert len(kept.corners_px) == len(kept.corner_ids)


def test_corners_of_clear_and_of_noisy_photos_stay() -> None:
    """Of normal errors one photo in 100 loses one: of 60, five lie beyond its 99.9th percentile."""
    lost = [
        26 - len(cleaned(sighting(seed, noise_px)).corner_ids)
        for seed in range(20)
        for noise_px in (0.05, 0.08, 0.3)
    ]
    assert sum(lost) < 5


@pytest.mark.parametrize("bend_mm", [-4.0, 5.0])
def test_a_curled_card_keeps_its_corners(bend_mm: float) -> None:
    card = sighting(5, 0.05, bend_mm)
    assert cleaned(card) is card


def test_a_false_focal_length_costs_no_corner() -> None:
    card = sighting(7, 0.05)
    assert cleaned(card, 0.6 * FOCAL_PX) is card


def test_no_more_than_a_quarter_of_the_corners_is_left_out() -> None:
    card = sighting(9, 0.05)
    px = card.corners_px.copy()
    px[::2] += np.random.default_rng(1).normal(0, 2.0, px[::2].shape)
    kept = cleaned(replace(card, corners_px=px))
    assert len(kept.corner_ids) >= 26 - 26 // 4

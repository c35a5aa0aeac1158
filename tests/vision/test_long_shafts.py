"""Shafts longer than the views trained on: photos of 268 and 300 mm, rendered by `python -m scenes.long_shafts`.

The far end of either lies beyond the finder's usual view, 173 mm from the card's middle.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bench.score import load_truths, read_photos
from bench.scoring import Result, score
from calibration.camera import Camera
from calibration.find_card import CardSighting
from calibration.photo import load_photo
from calibration.pose import card_pose
from vision.geometry.views import FINDER_ROWS, FINDER_STEP_MM, FINDER_Y0_MM, finder_view
from vision.request import detect_card
from vision.shaft.beside_card import reaches_farther, shaft_beside_card
from vision.shaft.find import ShaftGuess, find_shaft

TRUTHS = {truth.photo.stem: truth for truth in load_truths(Path(__file__).parent / "long_shafts")}
VIEW_ENDS_MM = FINDER_Y0_MM + FINDER_ROWS * FINDER_STEP_MM


@pytest.mark.parametrize("name", TRUTHS)
def test_a_long_shaft_is_read_whole(name: str) -> None:
    (found,) = read_photos([TRUTHS[name]])
    for one in score(TRUTHS[name], found):
        assert one.result is Result.RIGHT and one.error_mm is not None and abs(one.error_mm) < 0.6


@pytest.mark.parametrize(("name", "cut"), [("long-chrome-fork", True), ("long-gold-fork", False)])
def test_the_usual_view_does_not_show_its_far_end(name: str, cut: bool) -> None:
    """Cut off, the one is seen to go on; of the other a part is seen as if it were the whole."""
    truth = TRUTHS[name]
    photo, diameter_mm = load_photo(truth.photo), truth.fields["true_diameter_mm"]
    card = detect_card(photo.stored)
    assert isinstance(card, CardSighting)
    camera = Camera.centred(truth.fields["f_px"], photo.stored.shape[1], photo.stored.shape[0])
    pose = card_pose(card, camera, 1.0, 1.0)
    usual = find_shaft(finder_view(photo.stored, camera, pose), diameter_mm)
    _, longer = shaft_beside_card(photo.stored, camera, pose, diameter_mm, longer=True)
    assert usual.cut == (False, cut) and usual.y_high_mm <= VIEW_ENDS_MM < longer.y_high_mm
    assert reaches_farther(longer, usual)
    assert longer.y_high_mm - longer.y_low_mm == pytest.approx(truth.fields["exposed_mm"], abs=10)


def test_a_few_millimetres_are_no_longer_shaft() -> None:
    usual = ShaftGuess(60.0, 0.0, 40.0, 160.0, 41.0)
    assert not reaches_farther(ShaftGuess(60.0, 0.0, 15.0, 185.0, 41.0), usual)
    assert reaches_farther(ShaftGuess(60.0, 0.0, 5.0, 160.0, 41.0), usual)

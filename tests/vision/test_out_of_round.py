"""A splash of paint over an end is not taken for the end: painted into rendered photos whose truth is known."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.special_photos import PHOTOS, QUANTITIES, WRONG_MM, case
from vision.lengths.out_of_round import out_of_round
from vision.read import read_traced
from vision.reading import Reading
from vision.reasons import Reason


def splashed(name: str, end: str, half_share: float, inwards: float) -> tuple[Reading, dict[str, float]]:
    """Read a photo with an ellipse painted over an end, so many shaft widths to either side of its middle.

    `inwards`: its middle lies so much of the shaft's length nearer to the other end.
    """
    photo = case(name)
    truth = json.loads((PHOTOS / f"{name}.json").read_text())
    rims = {one: np.array(truth[f"{one}_rim_px"]) for one in ("seal", "far")}
    (other,) = {"seal", "far"} - {end}
    width_px = float(np.linalg.norm(rims[end][0] - rims[end][-1]))
    middle = rims[end].mean(axis=0) + inwards * (rims[other].mean(axis=0) - rims[end].mean(axis=0))
    axes = (round(1.05 * half_share * width_px), round(0.85 * half_share * width_px))
    pixels = photo.pixels.copy(order="C")
    at = (int(middle[0]), int(middle[1]))
    cv2.ellipse(pixels, at, axes, 0, 0, 360, (224, 92, 112), -1, cv2.LINE_AA)
    return replace(photo, pixels=pixels).read(), {q: truth[f"{q}_mm"] for q in QUANTITIES}


@pytest.mark.parametrize(
    "name, end, half_share, inwards, reason",
    [
        ("plain", "far", 0.5, -0.03, Reason.FAR_END_HIDDEN),
        ("plain", "far", 0.75, 0.06, Reason.FAR_END_HIDDEN),
        ("dark", "seal", 0.6, -0.03, Reason.SEAL_HIDDEN),
        ("plain-far", "seal", 0.5, 0.06, Reason.SEAL_HIDDEN),
    ],
)
def test_a_splash_over_an_end_is_said_and_not_read(
    name: str, end: str, half_share: float, inwards: float, reason: Reason
) -> None:
    """Before, these were read 7 mm long to 30 mm short."""
    reading, true_mm = splashed(name, end, half_share, inwards)
    assert reading.reason is reason and "no circle" in reading.notes[0].detail
    assert reading.exposed is None
    read = [(q, length) for q in QUANTITIES if (length := getattr(reading, q)) is not None]
    assert read, "what ends at the other end is still read"
    for quantity, length in read:
        assert abs(length.value_mm - true_mm[quantity]) < max(WRONG_MM, length.u95_mm)


@pytest.mark.parametrize("name", ["plain", "black-on-black", "marker-at-clamp"])
def test_ends_as_they_are_lie_on_circles(name: str) -> None:
    photo = case(name)
    reading, trace = read_traced(photo.pixels, photo.request)
    assert reading.joint is not None and trace.choice is not None
    assert out_of_round(reading.joint, trace.choice) == ()

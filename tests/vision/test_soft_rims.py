"""Blur along the shaft leaves open where a rim lies: sRGB (IEC 61966-2-1) against the share that is used."""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np
import pytest
from scipy.stats import norm

from vision.adjustment.observations import RimPoints
from vision.names import RimName
from vision.rims.choose import Choice
from vision.rims.soft import SHARP_PX, shift_sd_px, with_soft_rims
from vision.shaft.photo_lines import SOFT_CARD_PX


def srgb(light: np.ndarray) -> np.ndarray:
    """Code values of light, both 0 to 1."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize(
    ("dark", "bright", "at_least", "at_most"), [(0.001, 1.0, 0.75, 0.95), (0.4, 0.6, 0.0, 0.15)]
)
def test_blur_in_light_shifts_the_steepest_place(
    dark: float, bright: float, at_least: float, at_most: float
) -> None:
    """An edge blurred in light by one unit: its steepest place in code values is 0.8 units off, less if it is faint."""
    x = np.linspace(-4, 4, 8001)
    codes = srgb(dark + (bright - dark) * norm.cdf(x))
    shift = -float(x[np.argmax(np.gradient(codes))])
    assert at_least < shift < at_most


def test_sharp_photos_are_as_they_were() -> None:
    assert SHARP_PX == SOFT_CARD_PX
    choice = Choice(rims={RimName.SEAL: RimPoints(RimName.SEAL, np.zeros((3, 2)), sd_px=0.5)})
    assert with_soft_rims(choice, SHARP_PX) is choice
    assert with_soft_rims(choice, 0.0) is choice


def test_every_rim_of_a_blurred_one_is_vaguer() -> None:
    rims = {
        name: RimPoints(name, np.zeros((3, 2)), sd_px=sd)
        for name, sd in ((RimName.SEAL, 0.5), (RimName.FAR_END, 2.0))
    }
    blurred = with_soft_rims(Choice(rims=rims), 2.0).rims
    for name, rim in rims.items():
        assert blurred[name].sd_px == pytest.approx(hypot(rim.sd_px, shift_sd_px(2.0)))
    assert shift_sd_px(2.0) == pytest.approx(0.46 * sqrt(2.0**2 - 0.75**2), rel=0.01)

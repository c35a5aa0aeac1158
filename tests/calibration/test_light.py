"""sRGB to linear light against scikit-image and tabled values."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import rgb2xyz

from calibration.light import linear_table


def test_table_is_the_luminance_of_greys() -> None:
    # Source: skimage.color.rgb2xyz; Y of a grey with white at Y = 1 is its linear light. Its three
    # coefficients are given to six digits.
    greys = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    luminance = rgb2xyz(greys)[:, 1]
    np.testing.assert_allclose(linear_table(), luminance, atol=2e-6)


@pytest.mark.parametrize(
    ("code", "light"), [(0, 0.0), (10, 10 / 255 / 12.92), (128, 0.2158605), (188, 0.5028865), (255, 1.0)]
)
def test_tabled_values(code: int, light: float) -> None:
    # Source: IEC 61966-2-1 worked out by hand (from memory): 12.92 below 0.04045 (code 10.3), a power above.
    assert linear_table()[code] == pytest.approx(light, abs=1e-6)


def test_brighter_code_is_more_light() -> None:
    assert np.all(np.diff(linear_table()) > 0)

"""A picture made smaller, against scikit-image's means of blocks."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.measure import block_reduce

from calibration.pixels import shrunk


@pytest.mark.parametrize(("times", "times_down"), [(3, None), (4, 2), (15, 5)])
def test_each_pixel_is_the_mean_of_its_block(times: int, times_down: int | None) -> None:
    # Source: skimage.measure.block_reduce; rounded to whole code values, so that half of one may be missing.
    picture = np.random.default_rng(3).integers(0, 256, (61, 94, 3), dtype=np.uint8)
    down = times_down or times
    whole = picture[: 61 // down * down, : 94 // times * times].astype(float)
    want = block_reduce(whole, (down, times, 1), np.mean)  # type: ignore[no-untyped-call]
    got = shrunk(picture, times, times_down)
    assert got.shape == want.shape
    np.testing.assert_allclose(got, want, atol=0.51)

"""The focal length known beforehand, and what cropping and editing do to it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.errors import CalibrationError
from calibration.exif import ExifFacts
from calibration.focal import focal_px_prior
from calibration.photo import Photo


def photo(width_px: int, height_px: int, **exif: float) -> Photo:
    facts = replace(ExifFacts(), **exif)  # type: ignore[arg-type]
    pixels = np.broadcast_to(np.uint8(0), (height_px, width_px, 3))
    return Photo(pixels, 0, Path("a.jpg"), "", facts)


def test_exif_focal_relates_to_the_diagonal() -> None:
    # 35 mm equivalent by the diagonal (CIPA DCG-001): 26 mm on 43.27 mm, 5,040 px on 4032 x 3024.
    prior = focal_px_prior(photo(4032, 3024, focal_35mm=26.0))
    assert prior.focal_px == pytest.approx(26 / 43.2666 * 5040, rel=1e-4)
    assert prior.source == "exif"
    assert not prior.edited
    assert prior.remarks == ()
    # Whole millimetres: uniform ±0.5 mm, sd 1/sqrt(12) = 0.289 mm, with 0.5 % for the rest: 1.2 % at 26 mm.
    assert prior.rel_sd == pytest.approx(0.0122, abs=2e-4)
    assert focal_px_prior(photo(4032, 3024, focal_35mm=77.0)).rel_sd == pytest.approx(0.0063, abs=2e-4)


def test_rounding_is_covered_at_two_sd() -> None:
    # A true equivalent anywhere between the whole numbers.
    for true in np.linspace(13, 80, 300):
        prior = focal_px_prior(photo(4032, 3024, focal_35mm=float(round(true))))
        true_px = true / 43.2666 * 5040
        assert abs(math.log(true_px / prior.focal_px)) < 2 * prior.rel_sd


def test_nothing_known() -> None:
    prior = focal_px_prior(photo(4032, 3024))
    assert prior.source == "assumed"
    assert prior.rel_sd == pytest.approx(0.12)
    assert any("assumed" in remark for remark in prior.remarks)


def test_declared_wins_and_disagreement_is_reported() -> None:
    prior = focal_px_prior(photo(4032, 3024, focal_35mm=26.0), 52.0)
    assert prior.source == "stated"
    assert prior.focal_px == pytest.approx(52 / 43.2666 * 5040, rel=1e-4)
    assert any("52" in remark and "26" in remark for remark in prior.remarks)


@pytest.mark.parametrize("nonsense", [0.0, -26.0, math.nan, math.inf, 5000.0])
def test_implausible_declared_value_is_refused(nonsense: float) -> None:
    with pytest.raises(CalibrationError, match="not plausible"):
        focal_px_prior(photo(4032, 3024), nonsense)


def test_implausible_exif_is_not_used() -> None:
    prior = focal_px_prior(photo(4032, 3024, focal_35mm=5000.0))
    assert prior.source == "assumed"
    assert any("not plausible" in remark for remark in prior.remarks)


@pytest.mark.parametrize(
    "size", [(4032, 3024), (3024, 4032), (6000, 4000), (4032, 2268), (4080, 3060), (4000, 2992)]
)
def test_camera_shapes_are_not_taken_for_crops(size: tuple[int, int]) -> None:
    assert not focal_px_prior(photo(*size, focal_35mm=26.0)).edited


@given(scale=st.floats(0.1, 1.0), upright=st.booleans())
def test_scaling_keeps_the_angle_of_view(scale: float, upright: bool) -> None:
    width, height = round(4032 * scale), round(3024 * scale)
    size = (height, width) if upright else (width, height)
    prior = focal_px_prior(photo(*size, focal_35mm=26.0, width=4032, height=3024))
    assert not prior.edited
    assert prior.focal_px / math.hypot(*size) == pytest.approx(26 / 43.2666, rel=1e-4)
    assert prior.rel_sd < 0.013


@given(
    keep_width=st.floats(0.3, 1.0),
    keep_height=st.floats(0.3, 1.0),
    scale=st.floats(0.5, 1.0),
    said=st.booleans(),
)
def test_crops_are_seen_or_keep_the_shape(
    keep_width: float, keep_height: float, scale: float, said: bool
) -> None:
    """A crop, perhaps scaled after: the truth lies within 2 sd whenever the shape gives it away."""
    width, height = round(4032 * keep_width * scale), round(3024 * keep_height * scale)
    exif = {"focal_35mm": 26.0, **({"width": 4032, "height": 3024} if said else {})}
    prior = focal_px_prior(photo(width, height, **exif))
    true_px = 26 / 43.2666 * 5040 * scale
    if prior.edited and (said or min(keep_width, keep_height) > 0.5):
        assert abs(math.log(true_px / prior.focal_px)) < 2 * prior.rel_sd
        assert prior.remarks
    shape = max(width, height) / min(width, height)
    if all(abs(shape / usual - 1) > 0.02 for usual in ((4 / 3,) if said else (4 / 3, 3 / 2, 16 / 9))):
        assert prior.edited
        assert prior.rel_sd > 0.012
        assert prior.centre_sd_px > 0


def test_crop_without_scaling_is_covered_by_the_sizes() -> None:
    # Half the width cut away, full height: the true focal length in px is that of the full frame.
    prior = focal_px_prior(photo(2016, 3024, focal_35mm=26.0, width=4032, height=3024))
    assert prior.edited
    assert abs(math.log(26 / 43.2666 * 5040 / prior.focal_px)) < 2 * prior.rel_sd
    # Deeper, 1000 x 1500 of it: to cut and not to scale is the usual thing, and lies within one.
    deep = focal_px_prior(photo(1000, 1500, focal_35mm=26.0, width=4032, height=3024))
    assert deep.rel_sd > 0.3
    assert abs(math.log(26 / 43.2666 * 5040 / deep.focal_px)) < deep.rel_sd
    assert "cropped" in prior.remarks[0]


def test_prior_of_a_crop_whose_full_frame_is_known() -> None:
    # By hand, no outside source. Full frame 4032 x 3024: diagonal 5040 px. The smallest scale at which 1000 x 1500 px
    # fits into it upright or lying is 1500/4032, so the full diagonal is 1875 to 5040 px of this photo, the latter
    # (not scaled after cropping) with a share of one half. Mean of ln: ln 5040 - ln(5040/1875)/4 = ln 3936.1.
    prior = focal_px_prior(photo(1000, 1500, focal_35mm=26.0, width=4032, height=3024))
    assert prior.focal_px == pytest.approx(26 / 43.2666 * 3936.1, rel=1e-4)
    # Half of what lies between this mean and the lower end, ln(3936.1/1875)/2, with 1.2 % for EXIF's rounding.
    assert prior.rel_sd == pytest.approx(math.hypot(0.5 * math.log(3936.1 / 1875), 0.0122), rel=1e-3)
    # Up to 4032 - 1500 px of the long side are cut away at either end: uniform.
    assert prior.centre_sd_px == pytest.approx(2532 / math.sqrt(12), rel=1e-4)


def test_prior_of_a_crop_whose_full_frame_is_not_known() -> None:
    # By hand, no outside source. The smallest 4:3 frame that holds 1000 x 1400 px is 1050 x 1400, diagonal 1750 px;
    # twice that, 3500 px, is the largest assumed; the photo's own diagonal, 1720.5 px, is the least.
    prior = focal_px_prior(photo(1000, 1400, focal_35mm=26.0))
    assert prior.focal_px == pytest.approx(26 / 43.2666 * math.sqrt(1720.5 * 3500), rel=1e-4)
    # Uniform in the logarithm, with 1.2 % for EXIF's rounding.
    assert prior.rel_sd == pytest.approx(
        math.hypot(math.log(3500 / 1720.5) / math.sqrt(12), 0.0122), rel=1e-3
    )
    assert prior.centre_sd_px == pytest.approx(1400 / math.sqrt(12), rel=1e-4)


def test_a_whole_frame_that_was_squeezed_leaves_nothing_free() -> None:
    # By hand, no outside source. 4032 x 3024 scaled to 3600 x 3024: 26 mm are 26 / 43.2666 * 5040 = 3028.7 px; along
    # the width 3600/4032 of it, along the height all. Aspect: ln(4032/3600) = 0.1133.
    (only,) = focal_px_prior(photo(3600, 3024, focal_35mm=26.0, width=4032, height=3024)).squeezed
    assert only.focal_px == pytest.approx(3028.7 * math.sqrt(3600 / 4032), rel=1e-4)
    assert only.log_aspect == pytest.approx(0.1133, abs=1e-4)
    assert only.rel_sd == pytest.approx(0.0122, rel=0.01)
    # Without EXIF's size it may have been of any shape that cameras have, but for those too far off.
    shapes = focal_px_prior(photo(3600, 3024, focal_35mm=26.0)).squeezed
    assert [round(math.exp(one.log_aspect) * 3600 / 3024, 3) for one in shapes] == [1.333, 1.5]
    assert focal_px_prior(photo(4032, 3024, focal_35mm=26.0)).squeezed == ()


def test_the_picture_as_stored_is_squeezed_the_other_way_when_it_lies() -> None:
    upright = photo(3024, 3600, focal_35mm=26.0, width=4032, height=3024)
    stored = replace(upright, stored=upright.stored.swapaxes(0, 1), quarter_turns=1)
    (as_shown,), (as_stored,) = focal_px_prior(upright).squeezed, focal_px_prior(stored).squeezed
    assert as_shown.log_aspect == pytest.approx(-0.1133, abs=1e-4)
    assert as_stored == replace(as_shown, log_aspect=-as_shown.log_aspect)


def test_digital_zoom_widens() -> None:
    prior = focal_px_prior(photo(4032, 3024, focal_35mm=26.0, digital_zoom=2.0))
    # Makers who leave the zoom out of the 35 mm figure: the true focal length is twice as long.
    assert 2 * prior.rel_sd > math.log(2)
    assert any("zoom" in remark for remark in prior.remarks)
    assert focal_px_prior(photo(4032, 3024, focal_35mm=26.0, digital_zoom=1.0)).rel_sd < 0.013

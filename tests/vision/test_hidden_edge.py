"""A marker whose seal's side a coil hides, on made-up classes and on a photo; its widths are the trade's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_frame import CYLINDER, FRAME, bands, part_map
from tests.helpers.special_photos import case, reading_of
from vision.geometry.views import READER_ROWS, READER_STEP_MM
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout
from vision.reasons import Reason
from vision.rims.choose import Choice, choose
from vision.rims.hidden_edge import (
    ASSUMED_WIDTH_REMARK,
    DECLARED_WIDTH_REMARK,
    DECLARED_WIDTH_SD_MM,
    NARROWEST_MM,
    WIDEST_MM,
)

COIL_ROWS, BAND_ENDS_ROW, FAR_ROW = (470, 506), 512, 600


def classes(
    covered: Part = Part.IN_FRONT, second_band: bool = False, coil_ends_row: int = COIL_ROWS[1]
) -> np.ndarray:
    """Classes (7, rows, columns) of a shaft on which 1.5 mm of a band show after a coil."""
    second = [(Part.SHAFT, 540), (Part.IN_FRONT, 560), (Part.MARKER, 566)] if second_band else []
    return bands(
        (Part.IN_FRONT, 440),
        (Part.SHAFT, COIL_ROWS[0]),
        (covered, coil_ends_row),
        (Part.MARKER, BAND_ENDS_ROW),
        *second,
        (Part.SHAFT, FAR_ROW),
        (Part.FAR_END, READER_ROWS),
    )


def chosen(p: np.ndarray, width_mm: float | None = None) -> Choice:
    return choose(part_map(p), Layout.SHOCK, width_mm)


def distance_mm(found: Choice) -> float:
    """From the edge that is taken to the one that is seen, along the picture of the shaft's middle."""
    rows = [
        np.median(rim.points_px[:, 1])
        for rim in (found.rims[RimName.MARKER_NEAR], found.rims[RimName.MARKER_FAR])
    ]
    return float(rows[1] - rows[0]) / float(CYLINDER.px_per_mm(FRAME.camera, 0.0))


def test_any_usual_width_is_as_likely_as_any_other() -> None:
    found = chosen(classes())
    assert found.near_hidden and found.remarks == (ASSUMED_WIDTH_REMARK,)
    assert distance_mm(found) == pytest.approx((NARROWEST_MM + WIDEST_MM) / 2, abs=0.1)
    px_per_mm = float(CYLINDER.px_per_mm(FRAME.camera, 0.0))
    sd_mm = found.rims[RimName.MARKER_NEAR].sd_px / px_per_mm
    # Half-width over the square root of three: GUM (JCGM 100:2008) 4.3.7; and the sigma of the other edge.
    own_mm = found.rims[RimName.MARKER_FAR].sd_px / px_per_mm
    uniform = (WIDEST_MM - NARROWEST_MM) / 2 / np.sqrt(3)
    assert sd_mm == pytest.approx(np.hypot(np.hypot(uniform, DECLARED_WIDTH_SD_MM), own_mm), rel=0.03)


def test_a_stated_width_tells_it_better() -> None:
    found = chosen(classes(), width_mm=4.8)
    assert found.near_hidden and found.remarks == (DECLARED_WIDTH_REMARK,)
    assert distance_mm(found) == pytest.approx(4.8, abs=0.1)
    usual = chosen(classes())
    assert found.rims[RimName.MARKER_NEAR].sd_px < 0.5 * usual.rims[RimName.MARKER_NEAR].sd_px


def test_what_is_seen_of_it_is_the_least_that_it_can_be() -> None:
    p = classes(coil_ends_row=COIL_ROWS[1] - 10)
    # Of rows 0.25 mm apart in the plane of the axis, 400 mm away; the surface is 380 mm away.
    seen_mm = (BAND_ENDS_ROW - COIL_ROWS[1] + 10) * READER_STEP_MM * 380 / 400
    assert distance_mm(chosen(p)) == pytest.approx((seen_mm + WIDEST_MM) / 2, abs=0.1)


def test_a_band_that_nothing_hides_is_no_such_marker() -> None:
    """Its other edge would be seen: what begins without one is a shadow, a smear, a label."""
    found = chosen(classes(covered=Part.ELSE))
    assert RimName.MARKER_NEAR not in found.rims and not found.near_hidden
    assert Reason.NO_MARKER in [note.reason for note in found.notes]


def test_a_band_wider_than_stated_is_no_such_marker() -> None:
    assert RimName.MARKER_NEAR not in chosen(classes(), width_mm=1.0).rims


def test_two_such_bands_are_not_told_apart() -> None:
    assert RimName.MARKER_NEAR not in chosen(classes(second_band=True)).rims


def test_on_a_photo_it_is_said_and_no_width_is_measured() -> None:
    found = reading_of("hidden-edge")
    assert found.remarks == (DECLARED_WIDTH_REMARK,)
    assert found.marker_band_mm is None
    assert found.remaining is not None


def test_without_a_stated_width_what_is_left_is_less_sure() -> None:
    """By the uniform distribution of what is not seen of the band, k = 2; root of the sum of squares."""
    declared = case("hidden-edge")
    usual = replace(declared, request=replace(declared.request, marker_width_mm=None)).read()
    found = reading_of("hidden-edge").remaining
    assert usual.remaining is not None and found is not None
    assert usual.remarks == (ASSUMED_WIDTH_REMARK,)
    more = np.sqrt(usual.remaining.u95_mm**2 - found.u95_mm**2)
    assert 0.3 < more < 2 * (WIDEST_MM - NARROWEST_MM) / np.sqrt(12)

"""How far the shaft reaches in made-up class maps; widths as they were made."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, part_map
from vision.geometry.views import READER_COLUMNS, READER_ROWS
from vision.networks.classes import Part
from vision.shaft.scale_check import END_TOLERANCE_U, MIN_ROWS, width_mismatch


def shaft(low_u: float, high_u: float, rows: int = 400) -> np.ndarray:
    """Bare shaft between two places across, in some rows."""
    u = FRAME.u()
    p = np.full((len(Part), READER_ROWS, READER_COLUMNS), 0.001, np.float32)
    p[Part.ELSE] = 0.994
    within = (u > low_u) & (u < high_u)
    p[Part.ELSE, 100 : 100 + rows, within], p[Part.SHAFT, 100 : 100 + rows, within] = 0.001, 0.994
    return p


def test_a_shaft_between_its_silhouettes_is_as_wide_as_stated() -> None:
    assert width_mismatch(part_map(shaft(-1.0, 1.0))) is None


@pytest.mark.parametrize(("low", "high"), [(-1.0, 0.5), (-0.6, 1.05), (-1.4, 1.0), (-1.3, 1.3), (-0.7, 0.7)])
def test_a_shaft_that_ends_elsewhere_is_told(low: float, high: float) -> None:
    width = width_mismatch(part_map(shaft(low, high)))
    assert width == pytest.approx(0.5 * (high - low), abs=0.08)  # a column


def test_a_column_more_or_less_says_nothing() -> None:
    assert width_mismatch(part_map(shaft(-1.0 + 0.5 * END_TOLERANCE_U, 1.0 + 0.5 * END_TOLERANCE_U))) is None


def test_too_little_bare_shaft_says_nothing() -> None:
    assert width_mismatch(part_map(shaft(-1.0, 0.5, MIN_ROWS - 1))) is None
    assert width_mismatch(part_map(shaft(-1.0, 0.5, MIN_ROWS))) is not None

"""What stated dimensions are worth. Limits are the project's own requirement unless said otherwise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from suspension.errors import QuantityError
from suspension.quantities.declared import extended_length, marker_width, shaft_diameter, stroke_length


@pytest.mark.parametrize(
    ("text", "u95_mm"),
    [
        ("41mm", 0.5),  # half of the last digit
        ("41.0 mm", 0.05),
        ("41.02 mm", 0.04),  # caliper
        ("41.025 mm", 0.04),
        ("4.1 cm", 0.5),
        ("1 5/8 in", 25.4 / 16),  # half of an eighth
        ("1 41/64 in", 25.4 / 128),
        ("1.614 in", 0.04),
        ("1.61 in", 0.127),
    ],
)
def test_diameter_without_doubt_is_by_caliper_or_as_fine_as_written(text: str, u95_mm: float) -> None:
    shaft = shaft_diameter(text)
    assert shaft.mm.sigma == pytest.approx(u95_mm / 2)
    assert (
        not shaft.uncertainty_given and "no ± is given" in shaft.remark and f"{u95_mm:.3g} mm" in shaft.remark
    )


def test_stated_doubt_is_taken_as_stated() -> None:
    shaft = shaft_diameter("41 mm ± 0.02 mm")
    assert shaft.mm.sigma == pytest.approx(0.01) and shaft.uncertainty_given and "as given" in shaft.remark
    assert shaft.mm.u95 == pytest.approx(0.02)


@pytest.mark.parametrize("text", ["3 mm", "6 mm", "80 mm", "1/8 in"])
def test_thin_rods_and_thick_tubes_are_taken(text: str) -> None:
    assert 3 <= shaft_diameter(text).mm.value <= 80


@pytest.mark.parametrize(
    ("text", "mm"), [("2.9 mm", "2.9 mm"), ("81 mm", "81 mm"), ("41 in", "1041 mm"), ("41 cm", "410 mm")]
)
def test_implausible_diameter_names_itself_and_what_is_usual(text: str, mm: str) -> None:
    with pytest.raises(QuantityError) as caught:
        shaft_diameter(text)
    assert mm in caught.value.message
    assert "6 to 50 mm" in caught.value.message and "3 to 80 mm" in caught.value.message


@pytest.mark.parametrize(
    ("read", "text", "u95_mm"),
    [
        (extended_length, "205mm", 0.5),  # by rule [common practice, no source]
        (extended_length, "205.0 mm", 0.5),
        (extended_length, "8 1/16 in", 25.4 / 32),
        (extended_length, "205 ± 0.2 mm", 0.2),
        (stroke_length, "120mm", 1.0),  # from a manual [common practice, no source]
        (stroke_length, "4.7 in", 1.27),
        (marker_width, "3.6mm", 0.1),  # by caliper on a soft strap [common practice, no source]
        (marker_width, "4 mm", 0.5),
    ],
)
def test_other_dimensions(read: Callable[..., Any], text: str, u95_mm: float) -> None:
    dimension = read(text)
    assert dimension.mm.sigma == pytest.approx(u95_mm / 2)
    assert dimension.remark.endswith(".")


@pytest.mark.parametrize(
    ("read", "text"), [(extended_length, "2 m"), (stroke_length, "1 mm"), (marker_width, "41 mm")]
)
def test_implausible_ones_are_refused(read: Callable[..., Any], text: str) -> None:
    with pytest.raises(QuantityError, match="this tool takes"):
        read(text)

"""Lengths as people write them.

The inch is 25.4 mm exactly: NIST SP 811 (2008), appendix B.8. ± is the half-width of a 95 % interval, k = 2:
JCGM 100, 6.3.3.
"""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from suspension.errors import QuantityError, SuspensionError
from suspension.quantities.lengths import Units, format_length, parse_length
from suspension.quantities.units import LONGEST_MM

INCH_MM = 25.4  # NIST SP 811 (2008), B.8


@pytest.mark.parametrize(
    ("text", "mm", "place_mm"),
    [
        ("41mm", 41, 1),
        ("41 mm", 41, 1),
        ("41,5 mm", 41.5, 0.1),
        ("41.50 mm", 41.5, 0.01),
        ("41,025 mm", 41.025, 0.001),
        (" 41 MM ", 41, 1),
        ("41 Mm", 41, 1),
        ("４１ mm", 41, 1),
        ("41\u00a0mm", 41, 1),
        ("4.1 cm", 41, 1),
        ("0.041 m", 41, 1),
        ("41000 µm", 41, 0.001),
        ("1.614 in", 1.614 * INCH_MM, 0.001 * INCH_MM),
        ("1,614 in", 1.614 * INCH_MM, 0.001 * INCH_MM),
        (".5 in", 12.7, 2.54),
        ('1.5"', 38.1, 2.54),
        ("1.5″", 38.1, 2.54),
        ("1.5''", 38.1, 2.54),
        ("3/8 inch", 9.525, INCH_MM / 8),
        ("1 3/8 in", 34.925, INCH_MM / 8),
        ("1-3/8 in", 34.925, INCH_MM / 8),
        ("1 3/8 inches", 34.925, INCH_MM / 8),
        ("1⅜ in", 34.925, INCH_MM / 8),
        ("1½ in", 38.1, INCH_MM / 2),
        ("11/8 in", 34.925, INCH_MM / 8),
        ("1 5/8in", 41.275, INCH_MM / 8),
    ],
)
def test_lengths_as_written(text: str, mm: float, place_mm: float) -> None:
    length = parse_length(text, name="shaft diameter")
    assert length.value == pytest.approx(mm, rel=1e-12)
    assert length.last_place == pytest.approx(place_mm, rel=1e-12)
    assert length.half_width is None


@pytest.mark.parametrize(
    ("text", "mm", "half_width_mm"),
    [
        ("41 mm ± 0.05 mm", 41, 0.05),
        ("41 ± 0.05 mm", 41, 0.05),
        ("41±0,05mm", 41, 0.05),
        ("41mm +- 0.05mm", 41, 0.05),
        ("41 mm +/- 0.05 mm", 41, 0.05),
        ("(41 ± 0.05) mm", 41, 0.05),
        ("4.1 cm ± 0.5 mm", 41, 0.5),
        ("1 5/8 in ± 1/64 in", 41.275, INCH_MM / 64),
        ("1.614 ± 0.002 in", 1.614 * INCH_MM, 0.002 * INCH_MM),
    ],
)
def test_doubt_is_the_95_percent_half_width(text: str, mm: float, half_width_mm: float) -> None:
    length = parse_length(text, name="shaft diameter")
    assert length.value == pytest.approx(mm, rel=1e-12)
    assert length.half_width == pytest.approx(half_width_mm, rel=1e-12)
    assert length.quantity(0.5).sigma == pytest.approx(half_width_mm / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("41", "no unit"),
        ("1 3/8", "no unit"),
        ("41 ± 0.05", "no unit"),
        ("41 mm ± 0.05", "no unit"),
        ("-41 mm", "negative"),
        ("−41 mm", "negative"),
        ("41 mm ± -1 mm", "negative"),
        ("0 mm", "zero"),
        ("0/8 in", "zero"),
        ("nan mm", "real number"),
        ("inf mm", "real number"),
        ("-Infinity mm", "real number"),
        ("41 kg", "cannot be in"),
        ("41 N/mm", "cannot be in"),
        ("41 °C", "°"),
        ("41 %", "cannot be in"),
        ("41 furlonks", "cannot be in"),
        ("forty mm", "not one number"),
        ("mm", "not one number"),
        ("", "Nothing"),
        ("   ", "Nothing"),
        ("1.234,5 mm", "more than one way"),
        ("1,234.5 mm", "more than one way"),
        ("1.234.567 mm", "more than one way"),
        ("1'234 mm", "more than one way"),
        ("1 234 mm", "more than one way"),
        ("1,234 mm", "thousands separator"),
        ("1.5 3/8 in", "not one number"),
        ("5 ft 3 in", "not one number"),
        ("41-42 mm", "not one number"),
        ("41 mm 5", "not one number"),
        ("4.1e1 mm", "not one number"),
        ("41 1/2 mm", "Fractions are for inches"),
        ("1 3/9 in", "inch rule"),
        ("3/0 in", "inch rule"),
        ("1 9/8 in", "between 0 and 1"),
        ("41 ± 0 mm", "uncertainty of zero"),
        ("41 ± 41 mm", "as large as"),
        ("41 ± 0.1 ± 0.1 mm", "between two numbers"),
        ("± 0.1 mm", "between two numbers"),
        ("41 mm ±", "between two numbers"),
        ("5 km", "nothing on a motorcycle"),
        ("9" * 50 + " mm", "nothing on a motorcycle"),
        ("9" * 5000 + " mm", "too long"),
    ],
)
def test_refused_with_an_example_of_a_right_one(text: str, says: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_length(text, name="shaft diameter")
    assert says in caught.value.message
    assert "shaft diameter" in caught.value.message or "comma" in caught.value.message or "°" in text
    assert any(c.isdigit() for c in caught.value.remedy) or "half-width" in caught.value.remedy
    assert len(caught.value.message) < 250


def test_the_ambiguous_comma_shows_both_readings() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_length("1,234 mm", name="extended length")
    assert "1.234 mm" in caught.value.remedy and "1234 mm" in caught.value.remedy


def test_zero_where_it_makes_sense() -> None:
    assert parse_length("0 mm", name="distance", allow_zero=True).value == 0


def test_control_characters_do_not_reach_the_terminal() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_length("\x1b[31m41", name="shaft diameter")
    assert "\x1b" not in caught.value.message


@pytest.mark.parametrize(
    ("mm", "units", "u95", "text"),
    [
        (92.0, "mm", None, "92.0 mm"),
        (92.04, Units.MM, 0.52, "92.0 ± 0.5 mm"),
        (25.4, Units.IN, None, "1.000 in"),
        (34.925, "in", 0.254, "1.375 ± 0.010 in"),
        (-0.01, "mm", None, "0.0 mm"),
    ],
)
def test_lengths_as_shown(mm: float, units: Units | str, u95: float | None, text: str) -> None:
    assert format_length(mm, units, u95_mm=u95) == text


def test_other_units_are_not_shown() -> None:
    with pytest.raises(QuantityError, match="furlongs"):
        format_length(1.0, "furlongs")


@settings(max_examples=60, deadline=None)
@given(mm=st.floats(1, LONGEST_MM - 1), units=st.sampled_from(list(Units)))
def test_what_is_shown_reads_back(mm: float, units: Units) -> None:
    shown = format_length(mm, units)
    read = parse_length(shown, name="length")
    step_mm = 0.1 if units is Units.MM else 0.001 * INCH_MM
    assert read.value == pytest.approx(mm, abs=step_mm / 2 + 1e-9)
    assert read.last_place == pytest.approx(step_mm)


@settings(max_examples=60, deadline=None)
@given(thousandths=st.integers(1, 3_000_000), places=st.integers(0, 3))
def test_comma_and_point_and_units_agree(thousandths: int, places: int) -> None:
    mm = round(thousandths / 1000, places)
    text = f"{mm:.{places}f}"
    if float(text) == 0:
        return
    by_point = parse_length(text + " mm", name="length").value
    assert by_point == pytest.approx(mm)
    if places not in (0, 3):
        assert parse_length(text.replace(".", ",") + " mm", name="length").value == by_point
    inches = mm / INCH_MM
    assert parse_length(f"{inches:.9f} in", name="length").value == pytest.approx(mm, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(whole=st.integers(0, 20), power=st.integers(1, 7), data=st.data())
def test_fractions_of_an_inch_are_exact(whole: int, power: int, data: Any) -> None:
    bottom = 2**power
    top = data.draw(st.integers(1, bottom - 1))
    for text in (
        f"{whole} {top}/{bottom} in",
        f'{whole}-{top}/{bottom}"',
        f"{whole * bottom + top}/{bottom} inch",
    ):
        assert parse_length(text, name="length").value == pytest.approx((whole + top / bottom) * INCH_MM)


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet=st.sampled_from("0123456789.,/-+±x×% '\"()minchkgfta½µ\u00a0\n²٣"), max_size=14))
@example("²mm")
@example("٣ mm")
@example("(±)")
@example("(1) (2)")
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        length = parse_length(text, name="length")
    except SuspensionError:
        return
    assert math.isfinite(length.value) and 0 < length.value <= LONGEST_MM
    assert length.half_width is None or 0 < length.half_width < length.value


def test_no_units_library_is_loaded_before_it_is_needed() -> None:
    code = (
        "import sys, suspension.quantities.declared, suspension.quantities.print_scale, suspension.stroke.stroke;"
        "sys.exit(bool({'pint', 'numpy', 'uncertainties'} & sys.modules.keys()))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0

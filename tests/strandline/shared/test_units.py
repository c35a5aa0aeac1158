"""Amounts in sentences in the owner's units. Oracle: scipy's constants (inch, pound; CODATA and NIST SP 811)."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from strandline.shared.units import in_units, mass
from suspension.quantities.lengths import Units


@given(
    st.floats(0, 3000), st.sampled_from([("mm", "in", constants.inch * 1000), ("kg", "lb", constants.pound)])
)
def test_amounts_come_back_to_what_they_were(value: float, unit: tuple[str, str, float]) -> None:
    metric, other, factor = unit
    written = f"{value:.1f}"
    sentence = in_units(f"It went to {written} {metric}, so.", Units.IN)
    found = re.fullmatch(rf"It went to ([0-9.]+) {other}, so\.", sentence)
    assert found is not None
    places = len(found[1].partition(".")[2])
    assert float(found[1]) * factor == pytest.approx(float(written), abs=0.51 * factor * 10.0**-places)
    # never coarser than what was said
    assert factor * 10.0**-places <= (0.5 if metric == "kg" else 0.1)


def test_intervals_and_doubts_are_turned_as_a_whole() -> None:
    # 3 mm = 0.118 in, 10 mm = 0.394 in; 100 kg = 220.46 lb, 4 kg = 8.82 lb
    assert in_units("3 to 10 mm is usual", Units.IN) == "0.12 to 0.39 in is usual"
    assert in_units("carries 100 ± 4 kg of 150 kg", Units.IN) == "carries 220 ± 9 lb of 331 lb"
    assert mass(100, Units.IN, 4) == "220 ± 9 lb" and mass(-0.2, Units.MM) == "0 kg"


@pytest.mark.parametrize("text", ["7 clicks", "2026-05-01", "ride 3", "IMG_12 mmx", "5 kgf", "v1.2 mm"])
def test_other_numbers_stay(text: str) -> None:
    assert in_units(text, Units.IN) == text and in_units(text, Units.MM) == text

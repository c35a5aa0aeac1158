"""One value of a bike's file: what TOML holds in, what a bike holds out, or why not."""

from __future__ import annotations

import re
from typing import Any

import pytest

from ridelog.bikes import amounts
from ridelog.bikes.values import (
    Count,
    Reader,
    as_count,
    as_motion_ratio,
    as_text,
    as_yes_no,
    choice,
    force_table,
    in_dimension,
    length,
    length_in,
    list_of,
    plain_number,
    unknown,
    whole_number,
)
from ridelog.errors import AmountError
from ridelog.names import AdjusterKind, LegName
from suspension.quantities.declared import Amount, shaft_diameter
from suspension.springs.motion_ratio import MotionRatio

CLICKS, TURNS, POSITIONS = AdjusterKind.CLICKS, AdjusterKind.TURNS, AdjusterKind.POSITIONS


@pytest.mark.parametrize(
    ("raw", "count"),
    [
        ("15 clicks", Count(15.0, CLICKS)),
        ("1 click", Count(1.0, CLICKS)),
        ("6.5 turns", Count(6.5, TURNS)),
        ("6,5 turns", Count(6.5, TURNS)),
        ("position 3", Count(3.0, POSITIONS)),
        ("5 positions", Count(5.0, POSITIONS)),
        (" 15  CLICKS ", Count(15.0, CLICKS)),
    ],
)
def test_counts(raw: str, count: Count) -> None:
    assert as_count(raw, "range") == count


def test_counts_as_people_write_them() -> None:
    assert [Count(number, kind).text for number, kind in ((3, POSITIONS), (1, CLICKS), (2.5, TURNS))] == [
        "position 3",
        "1 click",
        "2.5 turns",
    ]


@pytest.mark.parametrize(
    ("reader", "raw", "value"),
    [
        (as_text, " Grey twin ", "Grey twin"),
        (as_yes_no, True, True),
        (as_yes_no, "No", False),
        (choice(LegName), "Rear-Left", LegName.REAR_LEFT),
        (plain_number(2, 100, "32", "coils"), "32 coils", 32.0),
        (plain_number(2, 100, "32"), 32, 32.0),
        (whole_number(1, 3, "1"), 2, 2),
        (as_motion_ratio, 0.75, MotionRatio.constant(0.75)),
        (as_motion_ratio, [["0 mm", 0.80], ["4 cm", 0.74]], MotionRatio((0.0, 40.0), (0.80, 0.74))),
    ],
)
def test_plain_values(reader: Reader, raw: Any, value: object) -> None:
    assert reader(raw, "thing") == value


def measured(found: Amount) -> tuple[float, float, str]:
    return found.value, round(found.quantity.u95, 6), found.unit


def test_amounts_keep_their_unit_and_uncertainty() -> None:
    # Without ±: a ruler's 0.5 mm, what the caller says, 5 % of a spring's rate, half of the last digit given.
    assert measured(length_in((0, 80), "10 mm")("10 mm", "preload")) == (10.0, 0.5, "mm")
    assert measured(length_in((0, 10), "1.0 mm", u95_mm=0.1)("1.0 mm", "step")) == (1.0, 0.1, "mm")
    assert measured(length_in((0, 10), "1 mm", u95_mm=0.1)("1 mm", "step")) == (1.0, 0.5, "mm")
    assert measured(length_in((0, 80), "10 mm")("10 mm ± 0.2 mm", "preload")) == (10.0, 0.2, "mm")
    assert measured(in_dimension(amounts.RATE)("9.0 N/mm", "rate")) == (9.0, 0.45, "N/mm")
    assert measured(length(shaft_diameter, "41.0 mm")("41.02 mm", "shaft")) == (41.02, 0.04, "mm")


def test_tables_and_lists_keep_their_order() -> None:
    reader = force_table(length_in((0, 400), "20 mm", allow_zero=True), in_dimension(amounts.FORCE))
    rows = reader([["0 mm", "0 N"], ["20 mm", "150 N"], ["60 mm", "560 N"]], "table")
    assert [(x.value, force.value) for x, force in rows] == [(0.0, 0.0), (20.0, 150.0), (60.0, 560.0)]
    steps = list_of(length_in((0, 80), "4 mm", allow_zero=True), '["0 mm", "4 mm"]')
    assert [one.value for one in steps(["2 mm", "6 mm", "9 mm"], "positions")] == [2.0, 6.0, 9.0]


@pytest.mark.parametrize(
    ("reader", "raw", "said"),
    [
        (as_count, 15, "does not say what is counted"),
        (as_count, "15", "does not say what is counted"),
        (as_count, "15 mm", "is no count"),
        (as_text, "", "must be text"),
        (as_text, "a\x1bb", "cannot be printed"),
        (as_yes_no, "perhaps", "answered with"),
        (choice(LegName), "side", "cannot be"),
        (choice(AdjusterKind, ("turns",)), "turns", "cannot be"),
        (length_in((0, 80), "10 mm"), 10, "has no unit"),
        (length_in((0, 80), "10 mm"), "90 mm", "0 to 80 mm is taken"),
        (plain_number(2, 100, "32"), 1, "outside 2 to 100"),
        (plain_number(2, 100, "32"), "32 mm", "has no unit, but"),
        (whole_number(1, 3, "1"), 1.5, "not a whole number"),
        (as_motion_ratio, 1.6, "write 0.625"),  # 1 / 1.6: wheel travel over stroke
        (as_motion_ratio, [["0 mm"]], "not two values"),
        (as_motion_ratio, [["40 mm", 0.8], ["0 mm", 0.7]], "rise|rising"),
        (list_of(length_in((0, 80), "4 mm"), "x"), ["6 mm", "2 mm"], "must rise"),
        (list_of(length_in((0, 80), "4 mm"), "x"), ["6 mm"], "two values or more"),
        (force_table(length_in((0, 80), "4 mm"), in_dimension(amounts.FORCE)), "x", "rows of two values"),
    ],
)
def test_refusals(reader: Reader, raw: Any, said: str) -> None:
    with pytest.raises(AmountError) as caught:
        reader(raw, "thing")
    assert re.search(said, f"{caught.value.message} {caught.value.remedy}")


def test_not_known_is_said_in_words() -> None:
    assert unknown("don't know") and unknown("?") and not unknown("0 mm") and not unknown(0)

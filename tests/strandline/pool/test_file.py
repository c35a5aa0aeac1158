"""The file of settings by known numbers: what stands in a line is what the arithmetic gets, and back."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridelog.errors import TransferError
from ridelog.names import AdjusterKind, End
from strandline.pool.file import PoolRow, own_setting, read_csv, to_csv
from suspension.advice.setting import CountInterval
from suspension.quantities.quantity import Quantity

LINES = (
    "format,kind,end,owner,axle_load_kg,setting,setting_u95,counted_in,rides,invented\r\n"
    "1,Twin 500,rear,0a1b2c3d,142.5,6,1.6,clicks,4,no\r\n"
)
ROW = PoolRow("1", "Twin 500", End.REAR, "0a1b2c3d", 142.5, Quantity(6.0, 0.8), AdjusterKind.CLICKS, 4, False)


def test_a_line_and_its_row(tmp_path: Path) -> None:
    """The column is the 95 % half-width (k = 2, JCGM 100, 6.3.3), the row's sigma half of it."""
    path = tmp_path / "settings.csv"
    path.write_text(LINES, encoding="utf-8", newline="")
    assert read_csv(path) == (ROW,)
    assert to_csv([ROW]) == LINES


@pytest.mark.parametrize(
    ("low", "high", "u95"),
    [
        (6, 6, 0.58),  # half a step either way: 2 x 0.5/sqrt(3)
        (4, 9, 3.69),  # the farther end is 3 away, 1.6449 standard deviations: 2 x hypot(3/1.6449, 0.28868)
        (4, None, 10.96),  # open towards hard: the adjuster's end, 15, is 9 away
        (None, None, 10.96),
    ],
)
def test_an_owners_setting_has_the_expanded_uncertainty_of_its_interval(
    low: float | None, high: float | None, u95: float
) -> None:
    """Sources: JCGM 100, 4.3.7 (rectangular); the normal quantile 1.6449 leaves 5 % on one side."""
    steps = own_setting(6, CountInterval(low, high), (0, 15))
    assert (steps.value, steps.u95) == (6, u95)


def test_who_knows_least_never_weighs_most() -> None:
    """The longer an end of the interval is unknown, the larger the uncertainty, and the smaller the weight."""
    known = own_setting(6, CountInterval(5, 8), (0, 15))
    open_ended = own_setting(6, CountInterval(5, None), (0, 15))
    nothing = own_setting(6, None, (0, 15))
    assert known.sigma < open_ended.sigma <= nothing.sigma


@pytest.mark.parametrize(
    ("now", "instead"),
    [(",6,1.6,", ",-1,1.6,"), (",6,1.6,", ",6,0,"), (",6,1.6,", ",nan,1.6,"), (",6,1.6,", ",6,inf,")],
)
def test_numbers_that_make_no_sense(tmp_path: Path, now: str, instead: str) -> None:
    path = tmp_path / "settings.csv"
    path.write_text(LINES.replace(now, instead), encoding="utf-8")
    with pytest.raises(TransferError, match="line 2: a number is out of range"):
        read_csv(path)

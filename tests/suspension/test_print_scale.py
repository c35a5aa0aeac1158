"""Print scales as stated. Limits are the project's own requirement unless said otherwise."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import QuantityError, SuspensionError
from suspension.quantities.print_scale import print_scale


@pytest.mark.parametrize(
    ("text", "along", "across", "u95", "separate"),
    [
        ("0.98", 0.98, 0.98, 0.002, False),
        ("1", 1, 1, 0.002, False),
        ("0,98", 0.98, 0.98, 0.002, False),
        ("0.98 ± 0.004", 0.98, 0.98, 0.004, False),
        ("0.98 +/- 0.004", 0.98, 0.98, 0.004, False),
        ("0.98x0.985", 0.98, 0.985, 0.002, True),
        ("0.98 x 0.985", 0.98, 0.985, 0.002, True),
        ("0,98 X 0,985", 0.98, 0.985, 0.002, True),
        ("0.98 × 0.985 ± 0.003", 0.98, 0.985, 0.003, True),
        ("98 %", 0.98, 0.98, 0.002, False),
        ("98%x98.5%", 0.98, 0.985, 0.002, True),
        ("98 x 98.5 %", 0.98, 0.985, 0.002, True),
        ("98 % ± 0.3 %", 0.98, 0.98, 0.003, False),
        ("98 ± 0.3 %", 0.98, 0.98, 0.003, False),
        ("0.8", 0.8, 0.8, 0.002, False),
        ("1.25", 1.25, 1.25, 0.002, False),
    ],
)
def test_scales_as_written(text: str, along: float, across: float, u95: float, separate: bool) -> None:
    scale = print_scale(text)
    assert (scale.along, scale.across) == pytest.approx((along, across))
    assert scale.sd == pytest.approx(u95 / 2)
    assert scale.stated and scale.separate is separate
    assert ("no ± is given" in scale.remark) is not ("±" in text or "+/-" in text)


def test_unstated_is_unmeasured_not_one() -> None:
    scale = print_scale(None)
    assert not scale.stated and scale.along == scale.across == 1.0
    # fit-to-page, 95 % within 0.03 [common practice, no source]: much more than a measured sheet
    assert scale.sd == pytest.approx(0.015) and scale.sd > 10 * print_scale("1.0").sd
    assert "not measured" in scale.remark


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Nothing"),
        ("x", "missing"),
        ("0.98 x", "missing"),
        ("abc", "not one number"),
        ("nan", "real number"),
        ("-0.98", "negative"),
        ("0", "takes 0.8 to 1.25"),
        ("0.79", "takes 0.8 to 1.25"),
        ("1.26", "takes 0.8 to 1.25"),
        ("0.98 x 9.85", "takes 0.8 to 1.25"),
        ("98", "takes 0.8 to 1.25"),
        ("98 mm", "without a unit"),
        ("0.98 x 0.98 x 0.98", "more than two"),
        ("98 % ± 0.002", "mixes percent"),
        ("98 % x 0.98", "mixes percent"),
        ("0.98 ± 0", "uncertainty of zero"),
        ("0.98 ± 2", "covers all"),
        ("0.98 ± 0.1 ± 0.1", "between two numbers"),
        ("1/2", "without a unit"),
        ("1.234,5", "more than one way"),
    ],
)
def test_refused(text: str, says: str) -> None:
    with pytest.raises(QuantityError) as caught:
        print_scale(text)
    assert says in caught.value.message and caught.value.remedy


def test_the_bar_in_mm_is_led_to_the_ratio() -> None:
    with pytest.raises(QuantityError) as caught:
        print_scale("98.1")
    assert "0.981" in caught.value.remedy and "98.1 %" in caught.value.remedy


@settings(max_examples=60, deadline=None)
@given(along=st.integers(800, 1250), across=st.integers(800, 1250))
def test_percent_and_ratio_agree(along: int, across: int) -> None:
    ratio = print_scale(f"{along / 1000:.3f} x {across / 1000:.3f}")
    percent = print_scale(f"{along / 10:.1f} % × {across / 10:.1f} %")
    assert (ratio.along, ratio.across, ratio.sd) == pytest.approx((percent.along, percent.across, percent.sd))
    assert ratio.along == pytest.approx(along / 1000)


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="0123456789.,/-+±x×*% by", max_size=12))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        scale = print_scale(text)
    except SuspensionError:
        return
    assert 0.8 <= scale.along <= 1.25 and 0.8 <= scale.across <= 1.25 and scale.sd > 0

"""A bike as the arithmetic takes it: strokes to the bumper, adjusters, legs by their names."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.bikes.bike import Adjuster, Bike, BikeEnd, BikeLeg
from ridelog.errors import AmountError, RecordError
from ridelog.names import AdjusterKind, CountedFrom, End, LegName
from suspension.errors import QuantityError
from suspension.quantities.declared import Amount
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Layout
from suspension.stroke.marker import LockFacing, Marker, MarkerKind


def mm(value: float, u95: float = 0.5) -> Amount:
    return Amount(Quantity.from_u95(value, u95), "mm", f"{value:g} mm", False)


# The trade's check values: shock E0 80 to the bumper's face, b 20, bs 8; fork E0 205, S 120.
SHOCK = BikeLeg(LegName.REAR, Layout.SHOCK, extended=mm(80), bumper_free=mm(20), bumper_crushed=mm(8))
FORK = BikeLeg(LegName.FRONT_LEFT, Layout.FORK, extended=mm(205), stroke=mm(120, 1.0))


def test_a_leg_for_the_arithmetic() -> None:
    leg = SHOCK.leg
    assert leg.layout is Layout.SHOCK and leg.stroke_mm is None
    assert leg.extended_mm == Quantity(80.0, 0.25)
    assert leg.bumper_free_mm == Quantity(20.0, 0.25) and leg.bumper_crushed_mm == Quantity(8.0, 0.25)
    assert FORK.leg.stroke_mm == Quantity(120.0, 0.5) and FORK.leg.bumper_free_mm is None


def test_a_bumper_counts_where_both_its_lengths_are_known() -> None:
    half = replace(SHOCK, bumper_crushed=None).leg
    assert half.bumper_free_mm is None and half.bumper_crushed_mm is None


def test_the_stroke_at_which_the_bumper_is_met() -> None:
    assert SHOCK.bumper_stroke_mm == Quantity(80.0, 0.25)  # Sb = E0, to the bumper's free face
    assert FORK.bumper_stroke_mm is None  # inside, and not seen
    known = replace(FORK, bumper_contact=mm(105)).bumper_stroke_mm
    assert known is not None and known.value == 105.0


def test_a_marker_for_the_arithmetic() -> None:
    leg = replace(
        FORK,
        marker_kind=MarkerKind.TIE,
        marker_width=mm(4.8, 0.1),
        marker_lock=LockFacing.MEETS_SEAL,
    )
    assert leg.marker == Marker(MarkerKind.TIE, Quantity(4.8, 0.05), LockFacing.MEETS_SEAL)


def test_an_amount_that_is_no_length_is_none_for_a_length() -> None:
    with pytest.raises(QuantityError, match="is no length"):
        _ = replace(mm(80), unit="kg").mm


def test_adjusters_count_from_their_ends() -> None:
    one = Adjuster("preload", AdjusterKind.CLICKS, CountedFrom.SOFT, 15.0, mm(1.0, 0.1))
    assert one.range == (0.0, 15.0) and one.added_mm(4.0) == pytest.approx(4.0)
    from_hard = replace(one, counted_from=CountedFrom.HARD)
    assert from_hard.added_mm(4.0) == pytest.approx(11.0)
    ramp = Adjuster("preload", AdjusterKind.POSITIONS, CountedFrom.SOFT, positions=(mm(2), mm(6), mm(9)))
    assert ramp.range == (1.0, 3.0) and ramp.added_mm(3.0) == pytest.approx(7.0)
    unknown = Adjuster("rebound", AdjusterKind.CLICKS, CountedFrom.HARD)
    assert unknown.range == (0.0, None) and unknown.added_mm(4.0) is None
    with pytest.raises(AmountError, match="0 to 15"):
        one.check(16.0)
    with pytest.raises(AmountError, match="whole"):
        one.check(2.5)


def test_legs_by_name_and_by_end() -> None:
    right = replace(FORK, name=LegName.FRONT_RIGHT)
    bike = Bike("x", (FORK, right, SHOCK), front=BikeEnd(rake=None), rear=BikeEnd(limit=mm(260)))
    assert bike.leg("rear") is SHOCK and bike.leg(LegName.FRONT_LEFT) is FORK
    assert bike.legs_of("front") == (FORK, right) and bike.legs_of("rear") == (SHOCK,)
    assert bike.end(End.REAR).limit is not None and bike.end(End.FRONT).limit is None
    with pytest.raises(RecordError, match="has no leg rear-left"):
        bike.leg("rear-left")
    with pytest.raises(RecordError, match="has no leg side"):
        bike.legs_of("side")
    with pytest.raises(RecordError) as refused:
        replace(bike, legs=(FORK, right)).leg("rear")
    assert "The other end is described with strandline bike more." in refused.value.remedy


def test_an_adjuster_that_is_not_in_the_file_is_named() -> None:
    with pytest.raises(RecordError, match=r"no adjuster rebound in the bike's file \(none\)"):
        FORK.adjuster("rebound")

"""Headroom, the spring to buy and the oil level, against the trade's check values [derived there]."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.springs.air import AirChamber
from suspension.springs.equilibrium import rest_under
from suspension.springs.headroom import headroom
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.oil_level import force_of_oil_n, with_more_oil
from suspension.springs.spring_to_buy import Wanted, spring_to_buy
from suspension.springs.springs import LinearSpring
from suspension.springs.wheel_rate import EndForces


def test_headroom_check_values() -> None:
    """u 79, d 14, Sb 90, S 100 -> 1.12 to the bumper and 1.23 to the stop."""
    found = headroom(79, 14, 90, 100)
    assert found.to_bumper == pytest.approx(1.12, abs=0.005)
    assert found.to_stop == pytest.approx(1.23, abs=0.005)
    assert (
        "12 % harder meets the bumper" in found.words and "23 % harder reaches the hard stop" in found.words
    )
    assert headroom(79, 14, None, None).words == ""
    with pytest.raises(SuspensionError):
        headroom(0, 0, 90, 100)


@settings(max_examples=30, deadline=None)
@given(st.floats(1.3, 2.8), st.floats(1.0, 20.0), st.floats(900, 1500), st.floats(1.02, 1.3))
def test_headroom_is_the_harder_hit_that_reaches_the_limit(
    lam: float, preload: float, load: float, harder: float
) -> None:
    """The balance of forces, solved numerically: a hit so much harder goes so deep."""
    leg = LegForces(LinearSpring(18.0), preload)
    end = EndForces((leg, leg), MotionRatio.constant(0.85), 300.0)
    used, deeper = (rest_under(end, factor * lam * load).stroke_mm for factor in (1.0, harder))
    assert headroom(used, preload, deeper, None).to_bumper == pytest.approx(harder, rel=1e-6)


def test_spring_to_buy_check_value() -> None:
    """lam 2.3, Ws 1266 N, n 2, MR 0.85, c_s 30.1, u_t 79 -> 19.8 N/mm, 7.5 mm."""
    found = spring_to_buy(Wanted(2.3, 1266, 30.1, 79), 2, 0.85)
    assert found.rate_n_per_mm == pytest.approx(19.8, abs=0.05)
    assert found.preload_mm == pytest.approx(7.5, abs=0.05)
    assert found.words == "19.8 N/mm each, with 7.5 mm of preload"


def test_the_spring_bought_gives_sag_and_depth() -> None:
    """The balance of forces, solved numerically, with that spring."""
    found = spring_to_buy(Wanted(2.3, 1266, 30.1, 79), 2, 0.85)
    leg = LegForces(LinearSpring(found.rate_n_per_mm), found.preload_mm)
    end = EndForces((leg, leg), MotionRatio.constant(0.85), 100.0)
    assert rest_under(end, 1266).stroke_mm == pytest.approx(30.1)
    assert rest_under(end, 2.3 * 1266).stroke_mm == pytest.approx(79)


def test_no_spring_fits() -> None:
    for wanted in (Wanted(2.3, 1266, 80, 79), Wanted(1.0, 1266, 30, 79)):
        with pytest.raises(SuspensionError, match="No spring fits"):
            spring_to_buy(wanted, 2, 0.85)


def test_without_a_loose_spring_the_depth_decides() -> None:
    """The balance of forces, solved numerically: the depth is kept, the sag comes out smaller than wanted."""
    found = spring_to_buy(Wanted(1.6, 1266, 60, 79), 2, 0.85)
    leg = LegForces(LinearSpring(found.rate_n_per_mm), found.preload_mm)
    end = EndForces((leg, leg), MotionRatio.constant(0.85), 100.0)
    assert found.preload_mm == 0 and found.sag_stroke_mm < 60
    assert rest_under(end, 1266).stroke_mm == pytest.approx(found.sag_stroke_mm)
    assert rest_under(end, 1.6 * 1266).stroke_mm == pytest.approx(79)
    assert "without preload" in found.words


def test_oil_level_check_values() -> None:
    """10 mm more oil in a 41 mm tube, V0 = A x 250 mm, n 1.3: +2 N at 40 mm, +11 at 105, +14 at 115."""
    air = AirChamber(41, math.pi * 41**2 / 4 * 250)
    assert [round(force_of_oil_n(air, 10, stroke)) for stroke in (40, 105, 115)] == [2, 11, 14]
    assert force_of_oil_n(air, 10, 0) == 0 and force_of_oil_n(air, -10, 105) < 0
    with pytest.raises(SuspensionError):
        with_more_oil(air, 251)

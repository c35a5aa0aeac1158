"""The load factor of a route: against Student's t, the trade's check values, and simulated rides."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from suspension.advice.force_curve import ForceCurve, RideAt
from suspension.advice.severity import Severity
from suspension.errors import SuspensionError
from suspension.quantities.quantity import Bound, Quantity
from suspension.springs.leg_forces import LegForces
from suspension.springs.motion_ratio import MotionRatio
from suspension.springs.springs import LinearSpring
from suspension.springs.wheel_rate import EndForces

# As in domain.md's check values of section 6: n 2, k 18 N/mm, MR 0.85, Ws 1266 N.
END = EndForces(
    (LegForces(LinearSpring(18.0)), LegForces(LinearSpring(18.0))), MotionRatio.constant(0.85), 100.0
)
WS_N = 1266.0


def end_severity(rides: tuple[RideAt, ...] = (), reference_mm: float = 14.0) -> Severity:
    return Severity(ForceCurve.of_end(END, 100.0), rides, reference_mm, WS_N)


def exact(used_mm: float, preload_mm: float = 14.0, sigma_mm: float = 0.4) -> RideAt:
    return RideAt(Quantity(used_mm, sigma_mm), preload_mm, WS_N)


def test_interval_of_the_next_ride_is_students_t() -> None:
    # Oracle: prediction interval of a normal sample with unknown mean and sigma, mean ± t s sqrt(1 + 1/n)
    # (scipy.stats.t); the scatter's prior ends at 2 and 25 %, so a per cent of difference is left.
    used = np.array([93.4, 88.9, 97.2, 84.1, 91.0, 89.6])
    severity = Severity(
        ForceCurve.by_depth(400.0), tuple(RideAt(Quantity(float(u), 0.01), 10.0) for u in used), 10.0
    )
    half = stats.t.ppf(0.95, 5) * used.std(ddof=1) * math.sqrt(1 + 1 / 6)
    assert severity.stroke_at(0.05, 10.0) == pytest.approx(used.mean() - half, abs=1.0)
    assert severity.stroke_at(0.95, 10.0) == pytest.approx(used.mean() + half, abs=1.0)


def test_before_any_ride_the_range_of_load_factors_holds() -> None:
    # lam 1.5 to 2.5, rectangular; u = lam Ws/(n k MR) - d [derived, domain.md 6]: 1266/30.6 = 41.37 mm a unit of lam.
    severity = end_severity()
    assert severity.load_factor.value == pytest.approx(2.0, abs=0.1)
    middle = severity.stroke_at(0.5, 14.0)
    assert middle == pytest.approx(2.0 * WS_N / (2 * 18 * 0.85) - 14.0, abs=3.0)


def test_load_factor_of_a_ride() -> None:
    # Check value of domain.md 6: u 79, d 14, n 2, k 18, MR 0.85, Ws 1266 -> lam = 93 x 30.6/1266 = 2.248.
    severity = end_severity(tuple(exact(79.0) for _ in range(6)))
    assert severity.load_factor.value == pytest.approx(93 * 30.6 / 1266, abs=0.02)


def test_preload_effect_after_one_change() -> None:
    # Check value of domain.md 6: prior -1 ± 0.3, 2 mm more gave 1.2 mm less, 3 mm a run -> -0.992 ± 0.297. The
    # scatter is learnt here, so the last digit differs.
    rides = (RideAt(Quantity(80.0, 0.01), 20.0), RideAt(Quantity(78.8, 0.01), 22.0))
    effect = Severity(ForceCurve.by_depth(300.0), rides, 20.0).preload_effect
    assert effect.value == pytest.approx(0.992, abs=0.02)
    assert effect.sigma == pytest.approx(0.297, abs=0.01)


def test_a_marker_at_the_bumper_is_at_least() -> None:
    quiet = end_severity((exact(80.0), exact(82.0)))
    at_bumper = end_severity(
        (exact(80.0), exact(82.0), RideAt(Quantity(88.0, 0.4, Bound.AT_LEAST), 14.0, WS_N))
    )
    assert at_bumper.chance_of_reaching(90.0, 14.0) > quiet.chance_of_reaching(90.0, 14.0) + 0.05


def test_at_least_says_nothing_where_it_was_expected_anyway() -> None:
    """1 - Phi((limit - mean)/sd) is near 1 far under the mean: such a ride moves the middle by next to nothing."""
    rides = (exact(80.0), exact(83.0), exact(86.0))
    low = RideAt(Quantity(60.0, 0.4, Bound.AT_LEAST), 14.0, WS_N)
    without, with_it = end_severity(rides), end_severity((*rides, low))
    assert with_it.stroke_at(0.5, 14.0) == pytest.approx(without.stroke_at(0.5, 14.0), abs=0.5)
    assert with_it.stroke_at(0.05, 14.0) >= without.stroke_at(0.05, 14.0) - 0.5


def test_chance_falls_with_preload_and_ends_at_the_stop() -> None:
    severity = end_severity((exact(84.0), exact(86.0), exact(80.0)))
    chances = [severity.chance_of_reaching(90.0, preload) for preload in (10.0, 14.0, 18.0, 22.0)]
    assert chances == sorted(chances, reverse=True)
    assert severity.chance_of_reaching(100.5, 14.0) == 0.0
    assert severity.stroke_at(0.999, 2.0) == 100.0


def test_a_load_factor_carries_to_another_load() -> None:
    # u + d goes by Ws: du/dW = lam/(n k MR) [domain.md 6]; 40 % of that is not known.
    severity = end_severity(tuple(exact(70.0) for _ in range(5)))
    shift = severity.stroke_at(0.5, 14.0, WS_N + 150.0) - severity.stroke_at(0.5, 14.0)
    assert shift == pytest.approx(150.0 * severity.load_factor.value / 30.6, rel=0.02)


def test_a_spring_typed_wrong_is_contradicted_by_the_rides() -> None:
    # 95 N/mm typed in place of 18 on each side: the rides' load factor comes out five times as high.
    wrong = EndForces(
        (LegForces(LinearSpring(95.0)), LegForces(LinearSpring(95.0))), MotionRatio.constant(0.85), 100.0
    )
    rides = tuple(exact(u) for u in (79.0, 75.0, 82.0))
    assert not end_severity(rides).contradicts_file
    severity = Severity(ForceCurve.of_end(wrong, 100.0), rides, 14.0, WS_N)
    assert severity.contradicts_file
    assert severity.stroke_at(0.5, 14.0) == pytest.approx(79.0, abs=4.0)  # and the rides decide


@pytest.mark.parametrize("scatter", [0.05, 0.10, 0.12, 0.15])
def test_nine_in_ten_of_next_rides_lie_in_the_interval(scatter: float) -> None:
    # Simulated rides (no outside source): the load factor drawn from the prior's range, rides about it.
    draws = np.random.default_rng(5)
    inside, count = 0, 0
    for _ in range(60):
        factor = draws.uniform(*(1.5, 2.5))
        used = factor * (1 + scatter * draws.normal(size=5)) * WS_N / 30.6 - 14.0
        if used.max() > 99 or used.min() < 20:
            continue
        severity = end_severity(tuple(exact(float(u), sigma_mm=0.38) for u in used[:4]))
        inside += severity.stroke_at(0.05, 14.0) <= used[4] <= severity.stroke_at(0.95, 14.0)
        count += 1
    assert count >= 40
    assert 0.78 <= inside / count <= 1.0  # 90 % ± 2.5 sigma of 40 draws


def test_nothing_to_go_by_is_refused() -> None:
    with pytest.raises(SuspensionError):
        Severity(ForceCurve.by_depth(120.0), (RideAt(Quantity(90.0, 0.0, Bound.AT_LEAST), 5.0),), 5.0)


def test_no_forecast_lies_below_the_rider_aboard_compression() -> None:
    """Cut and renormalised: what lay below is shared out above."""
    rides = (exact(35.0), exact(28.0), exact(44.0))
    free, cut = end_severity(rides), Severity(ForceCurve.of_end(END, 100.0), rides, 14.0, WS_N, least_mm=30.0)
    assert free.stroke_at(0.05, 14.0) < 30.0 <= cut.stroke_at(0.05, 14.0)
    assert cut.chance_of_reaching(29.0, 14.0) == pytest.approx(1.0)
    assert cut.chance_of_reaching(45.0, 14.0) > free.chance_of_reaching(45.0, 14.0)
    # 4 mm more preload compress 4 mm less with the rider aboard
    assert cut.chance_of_reaching(26.5, 18.0) < 1.0 and cut.chance_of_reaching(25.9, 18.0) == pytest.approx(
        1.0
    )


def test_how_sure_a_count_is_firm_enough() -> None:
    """With hardly any uncertainty of the rides it is all or nothing; with few rides it rises with preload."""
    many = Severity(
        ForceCurve.by_depth(100.0),
        tuple(RideAt(Quantity(70.0 + 2 * (i % 3), 0.1), 14.0) for i in range(40)),
        14.0,
    )
    assert many.certainty_of(0.10, 90.0, 14.0) > 0.999 and many.certainty_of(0.10, 71.0, 14.0) < 0.001
    few = end_severity((exact(80.0), exact(84.0), exact(76.0)))
    sure = [few.certainty_of(0.10, 90.0, preload) for preload in (8.0, 14.0, 20.0, 26.0)]
    assert sure == sorted(sure) and sure[0] < 0.5 < sure[-1]


def test_the_scatter_is_learnt_over_its_whole_range() -> None:
    """Thirty rides of 4 % and of 18 %: a cap or a floor of the range would show (oracle: the sample's own sd)."""
    for share in (0.04, 0.18):
        draws = np.random.default_rng(8).normal(size=30)
        draws = (draws - draws.mean()) / draws.std(ddof=1)
        used = 100.0 * (1 + share * draws) - 10.0
        rides = tuple(RideAt(Quantity(float(u), 0.01), 10.0) for u in used)
        found = Severity(ForceCurve.by_depth(400.0), rides, 10.0).scatter
        assert found.value == pytest.approx(share, rel=0.12)


def test_three_rides_leave_the_scatter_wide() -> None:
    """The prior's spread: after three rides within 2 % the next may still lie 5 % away (t of 2 degrees: 2.92 sd)."""
    rides = tuple(RideAt(Quantity(u, 0.01), 10.0) for u in (88.0, 90.0, 92.0))
    severity = Severity(ForceCurve.by_depth(300.0), rides, 10.0)
    half = (severity.stroke_at(0.95, 10.0) - severity.stroke_at(0.05, 10.0)) / 2
    assert half == pytest.approx(stats.t.ppf(0.95, 2) * 2.0 * math.sqrt(4 / 3), rel=0.25)


def test_the_prior_is_as_wide_as_the_range_of_load_factors() -> None:
    """lam 1.5 to 2.5, rectangular: quartiles 1.75 and 2.25, with the scatter a little wider; u = lam 41.37 - 14."""
    severity = end_severity()
    lower, upper = ((severity.stroke_at(p, 14.0) + 14) / 41.37 for p in (0.25, 0.75))
    assert 1.62 < lower < 1.76 and 2.24 < upper < 2.38


def test_before_any_ride_the_scatter_has_the_priors_mean() -> None:
    """Density 1/s from 0.02 to 0.25: its mean is (b - a)/ln(b/a) = 0.091; the grid's ten points add 0.005."""
    assert end_severity().scatter.value == pytest.approx(0.23 / math.log(0.25 / 0.02), abs=0.008)


def test_how_far_another_load_is_not_known_to_move_the_depth() -> None:
    """The prior's spread of G, 40 % [domain.md 6], after fourteen rides at 300 N less that lie within half a mm.

    At the reference lam = F/(W - G dW), so that its relative sd is 0.4 x 300/966 = 12 %.
    """
    used = [50.0, 50.5, 49.5, 50.2, 49.8, 50.4, 49.6] * 2
    found = end_severity(tuple(RideAt(Quantity(u, 0.05), 14.0, WS_N - 300.0) for u in used)).load_factor
    assert found.sigma / found.value == pytest.approx(0.4 * 300.0 / (WS_N - 300.0), rel=0.15)


def test_one_in_twenty_of_the_prior_does_not_believe_the_file() -> None:
    """Five times the load at rest, twice what is usual: only a wrong file gets there.

    The grid reaches from 1.5/1.25/2 to 2.5 x 1.25 x 2, flat in its logarithm: 0.05 ln(6.25/5)/ln(6.25/0.6) = 0.0048,
    a little more by the rides' scatter.
    """
    long = EndForces(
        (LegForces(LinearSpring(18.0)), LegForces(LinearSpring(18.0))), MotionRatio.constant(0.85), 300.0
    )
    severity = Severity(ForceCurve.of_end(long, 300.0), (), 14.0, WS_N)
    chance = severity.chance_of_reaching(5.0 * WS_N / 30.6 - 14.0, 14.0)
    assert chance == pytest.approx(0.05 * math.log(6.25 / 5) / math.log(6.25 / 0.6), rel=0.2)

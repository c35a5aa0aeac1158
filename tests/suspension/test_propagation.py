"""Propagation against the GUM's example and against Monte Carlo draws of a known seed."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from uncertainties import umath

from suspension.errors import SuspensionError
from suspension.quantities.propagation import joint_variables, value_and_sigma
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import Marker, MarkerKind
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import answer_stroke
from tests.helpers.present import present
from tests.helpers.stroke_cases import ask, length

# JCGM 100:2008, H.2 (values from memory): V, I, phi with means, standard uncertainties of the means and
# correlation coefficients; results R 127.73(7), X 219.85(30), Z 254.26(24) ohm.
VOLT, AMPERE, PHI = 4.9990, 19.661e-3, 1.04446
SDS = (0.0032, 0.0095e-3, 0.00075)
R_VI, R_VP, R_IP = -0.36, 0.86, -0.65


def gum_inputs() -> tuple[Any, ...]:
    correlation = ((1, R_VI, R_VP), (R_VI, 1, R_IP), (R_VP, R_IP, 1))
    covariance = [[correlation[i][j] * SDS[i] * SDS[j] for j in range(3)] for i in range(3)]
    return joint_variables((VOLT, AMPERE, PHI), covariance)


def test_gum_h2() -> None:
    """Resistance, reactance and impedance; the inputs' correlations carry through product, ratio and function."""
    v, i, phi = gum_inputs()
    for result, expected, expected_sigma in (
        (v / i * umath.cos(phi), 127.73, 0.07),
        (v / i * umath.sin(phi), 219.85, 0.30),
        (v / i, 254.26, 0.24),
    ):
        value, sigma = value_and_sigma(result)
        assert value == pytest.approx(expected, abs=0.005)
        assert sigma == pytest.approx(expected_sigma, abs=0.005)


# 400,000 draws give a standard deviation to 0.11 % (1/sqrt(2 n)); five times that is allowed.
DRAWS, SAMPLING = 400_000, 0.0056


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("scale", [0.0005, 0.005])
def test_shared_scale_against_monte_carlo(layout: Layout, scale: float) -> None:
    """E0 from the same card and caliper shares the photo's scale (JCGM 101: draws in place of derivatives)."""
    c, d, gn, noise, own = 30.0, 62.0, 113.0, 0.2, 0.3
    e, e0 = d + gn, c + d + gn
    stroke = 120.0 if layout is not Layout.SHOCK else 1.05 * e0
    draw = np.random.default_rng(20260508)
    k = draw.normal(1.0, scale, DRAWS)
    seal, marker, end = draw.normal(0.0, noise, (3, DRAWS))
    es, ds, gns = (e + end - seal) * k, (d + marker - seal) * k, (gn + end - marker) * k
    e0s = (e0 + draw.normal(0.0, own, DRAWS)) * k
    strokes = draw.normal(stroke, 0.4, DRAWS)
    overhang = draw.uniform(0.0, 0.9, DRAWS)  # a tie whose lock faces nobody knows where
    used = e0s - gns - overhang

    # What the answer is given: standard uncertainties and covariance by hand, to first order.
    var = {
        "E": 2 * noise**2 + (e * scale) ** 2,
        "d": 2 * noise**2 + (d * scale) ** 2,
        "gn": 2 * noise**2 + (gn * scale) ** 2,
    }
    ed, eg, dg = (noise**2 + e * d * scale**2, noise**2 + e * gn * scale**2, -(noise**2) + d * gn * scale**2)
    lengths = ShaftLengths.from_photo(
        Quantity(e, math.sqrt(var["E"])),
        Quantity(d, math.sqrt(var["d"])),
        Quantity(gn, math.sqrt(var["gn"])),
        [[var["E"], ed, eg], [ed, var["d"], dg], [eg, dg, var["gn"]]],
    )
    leg = Leg(layout, Quantity(e0, math.hypot(own, e0 * scale)), Quantity(stroke, 0.4))
    answer = answer_stroke(
        StrokeQuestion(lengths, leg, Marker(MarkerKind.TIE), State.ON_WHEELS, shared_scale_sd=scale)
    )
    for found, drawn in (
        (answer.used_mm, used),
        (answer.compression_mm, e0s - es),
        (answer.reserve_hard_mm, strokes - used),
        (answer.used_percent, 100 * used / strokes),
    ):
        assert found is not None
        assert found.sigma == pytest.approx(drawn.std(), rel=SAMPLING)
        assert found.value == pytest.approx(drawn.mean(), abs=5 * drawn.std() / math.sqrt(DRAWS) + 1e-3)
    # both forms of u are one where all comes from one photo
    assert (e0s - es + ds - overhang) == pytest.approx(used)


def test_two_instruments_are_independent() -> None:
    answer = ask(Layout.FORK, State.ON_WHEELS, e0=205.0, gn=113.0, s=120.0, sd=0.3)
    assert present(answer.used_mm).sigma == pytest.approx(math.hypot(0.3, 0.3))  # u_c^2 = u^2(E0) + u^2(gn)


def test_a_scale_shared_makes_the_difference_surer() -> None:
    lengths = ShaftLengths(remaining_mm=Quantity(113, 0.6))
    leg = Leg(Layout.FORK, extended_mm=Quantity(205, 1.1))
    apart, together = (
        present(
            answer_stroke(StrokeQuestion(lengths, leg, Marker(MarkerKind.O_RING), shared_scale_sd=r)).used_mm
        ).sigma
        for r in (0.0, 0.005)
    )
    assert together < apart


def test_a_shared_scale_larger_than_the_length_own_doubt_is_refused() -> None:
    lengths = ShaftLengths(remaining_mm=length(113, 0.01))
    with pytest.raises(SuspensionError, match="do not fit together"):
        answer_stroke(StrokeQuestion(lengths, Leg(Layout.FORK, length(205, 0.01)), shared_scale_sd=0.01))


def test_missing_rows_of_a_covariance_may_be_nan() -> None:
    nan = math.nan
    lengths = ShaftLengths.from_photo(None, None, length(113, 0.3), [[nan] * 3, [nan] * 3, [nan, nan, 0.04]])
    answer = answer_stroke(
        StrokeQuestion(lengths, Leg(Layout.FORK, length(205, 0.4)), Marker(MarkerKind.O_RING))
    )
    assert present(answer.used_mm).sigma == pytest.approx(0.5)  # the length's own 0.3, not the matrix's 0.2


@pytest.mark.parametrize(
    "covariance", [((1.0, 2.0), (2.0, 1.0)), ((1.0, 0.5), (0.1, 1.0)), ((math.nan, 0.0), (0.0, 1.0))]
)
def test_impossible_covariance_is_refused(covariance: tuple[tuple[float, ...], ...]) -> None:
    with pytest.raises(SuspensionError):
        joint_variables((1.0, 2.0), covariance)


def test_a_covariance_kept_to_six_digits_is_taken() -> None:
    """E = d + gn exactly, so that the matrix has no full rank and any rounding may push it below zero."""
    random = np.random.default_rng(1)
    for _ in range(200):
        d, gn, r = random.uniform(0.1, 0.4), random.uniform(0.1, 0.4), random.uniform(-0.9, 0.9)
        both = r * d * gn
        matrix = (
            (d**2 + 2 * both + gn**2, d**2 + both, gn**2 + both),
            (d**2 + both, d**2, both),
            (gn**2 + both, both, gn**2),
        )
        rounded = tuple(tuple(round(one, 6) for one in row) for row in matrix)
        joint_variables((175.0, 62.0, 113.0), rounded)

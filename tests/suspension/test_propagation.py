"""Propagation against the GUM's example and against a general-purpose library."""

import math

import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.errors import SuspensionError
from suspension.quantities.propagation import JointInputs
from suspension.quantities.quantity import Quantity
from suspension.stroke.leg import Layout, Leg, State
from suspension.stroke.marker import Marker, MarkerKind
from suspension.stroke.question import StrokeQuestion
from suspension.stroke.shaft_lengths import ShaftLengths
from suspension.stroke.stroke import answer_stroke
from tests.helpers.stroke_cases import ask, length

# JCGM 100:2008, H.2 (values from memory): V, I, phi with means, standard uncertainties of the means and
# correlation coefficients; results R 127.73(7), X 219.85(30), Z 254.26(24) ohm.
VOLT, AMPERE, PHI = 4.9990, 19.661e-3, 1.04446
SDS = (0.0032, 0.0095e-3, 0.00075)
R_VI, R_VP, R_IP = -0.36, 0.86, -0.65


def gum_inputs() -> JointInputs:
    correlation = ((1, R_VI, R_VP), (R_VI, 1, R_IP), (R_VP, R_IP, 1))
    covariance = tuple(tuple(correlation[i][j] * SDS[i] * SDS[j] for j in range(3)) for i in range(3))
    return JointInputs(("V", "I", "phi"), (VOLT, AMPERE, PHI), covariance)


def test_gum_h2_impedance_is_a_ratio():
    z, sd = gum_inputs().ratio({"V": 1.0}, {"I": 1.0})
    assert z == pytest.approx(254.26, abs=0.005)
    assert sd == pytest.approx(0.24, abs=0.005)


@pytest.mark.parametrize(
    ("turn", "expected", "expected_sd"), [(math.cos, 127.73, 0.07), (math.sin, 219.85, 0.30)]
)
def test_gum_h2_resistance_and_reactance(turn, expected, expected_sd):
    result = VOLT / AMPERE * turn(PHI)
    slope = -math.sin(PHI) if turn is math.cos else math.cos(PHI)
    gradient = {"V": turn(PHI) / AMPERE, "I": -result / AMPERE, "phi": VOLT / AMPERE * slope}
    assert result == pytest.approx(expected, abs=0.005)
    assert gum_inputs().sd_along(gradient) == pytest.approx(expected_sd, abs=0.005)


def test_gum_h2_against_uncertainties():
    inputs = gum_inputs()
    v, i, phi = uncertainties.correlated_values(inputs.values, inputs.covariance)
    assert inputs.ratio({"V": 1.0}, {"I": 1.0})[1] == pytest.approx((v / i).std_dev, rel=1e-6)
    assert inputs.linear({"V": 2.0, "phi": -3.0})[1] == pytest.approx((2 * v - 3 * phi).std_dev, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    c=st.floats(0, 60),
    d=st.floats(10, 100),
    gn=st.floats(20, 100),
    noise=st.floats(0.02, 0.5),
    scale=st.floats(1e-4, 0.01),
    own=st.floats(0.01, 0.5),
    layout=st.sampled_from(list(Layout)),
    state=st.sampled_from([State.ON_WHEELS, State.UNKNOWN]),
)
def test_shared_scale_against_uncertainties(c, d, gn, noise, scale, own, layout, state):
    """E0 from the same card and caliper shares the photo's scale: each result as `uncertainties` has it."""
    e, e0 = d + gn, c + d + gn
    k = uncertainties.ufloat(1, scale)
    seal, marker, end, ruler = (uncertainties.ufloat(0, x) for x in (noise, noise, noise, own))
    ue, ud, ugn = (e + end - seal) * k, (d + marker - seal) * k, (gn + end - marker) * k
    ue0, us, uo = (
        (e0 + ruler) * k,
        uncertainties.ufloat(0.9 * e0, 0.4),
        uncertainties.ufloat(0.45, 0.9 / math.sqrt(12)),
    )
    used = ue0 - ugn - uo
    if layout is Layout.SHOCK:
        us = uncertainties.ufloat(1.05 * e0, 0.4)
    if used.nominal_value > us.nominal_value:
        return
    lengths = ShaftLengths.from_photo(
        *(Quantity(x.nominal_value, x.std_dev) for x in (ue, ud, ugn)),
        uncertainties.covariance_matrix([ue, ud, ugn]),
    )
    leg = Leg(layout, Quantity(e0, ue0.std_dev), Quantity(us.nominal_value, 0.4))
    answer = answer_stroke(StrokeQuestion(lengths, leg, Marker(MarkerKind.TIE), state, shared_scale_sd=scale))
    assert answer.used_mm.value == pytest.approx(used.nominal_value)
    assert answer.used_mm.sigma == pytest.approx(used.std_dev, rel=1e-6)
    assert answer.compression_mm.sigma == pytest.approx((ue0 - ue).std_dev, rel=1e-6)
    assert answer.reserve_hard_mm.sigma == pytest.approx((us - used).std_dev, rel=1e-6)
    assert answer.used_percent.sigma == pytest.approx((100 * used / us).std_dev, rel=1e-6)
    # both forms of u are one where all comes from one photo
    assert (ue0 - ue + ud - uo).std_dev == pytest.approx(used.std_dev, rel=1e-6)


def test_two_instruments_are_independent():
    answer = ask(Layout.FORK, State.ON_WHEELS, e0=205.0, gn=113.0, s=120.0, sd=0.3)
    assert answer.used_mm.sigma == pytest.approx(math.hypot(0.3, 0.3))  # u_c^2 = u^2(E0) + u^2(gn)


def test_a_scale_shared_makes_the_difference_surer():
    lengths = ShaftLengths(remaining_mm=Quantity(113, 0.6))
    leg = Leg(Layout.FORK, extended_mm=Quantity(205, 1.1))
    apart, together = (
        answer_stroke(
            StrokeQuestion(lengths, leg, Marker(MarkerKind.O_RING), shared_scale_sd=r)
        ).used_mm.sigma
        for r in (0.0, 0.005)
    )
    assert together < apart


def test_a_shared_scale_larger_than_the_length_own_doubt_is_refused():
    lengths = ShaftLengths(remaining_mm=length(113, 0.01))
    with pytest.raises(SuspensionError, match="do not fit together"):
        answer_stroke(StrokeQuestion(lengths, Leg(Layout.FORK, length(205, 0.01)), shared_scale_sd=0.01))


def test_missing_rows_of_a_covariance_may_be_nan():
    nan = math.nan
    lengths = ShaftLengths.from_photo(None, None, length(113, 0.3), [[nan] * 3, [nan] * 3, [nan, nan, 0.04]])
    answer = answer_stroke(
        StrokeQuestion(lengths, Leg(Layout.FORK, length(205, 0.4)), Marker(MarkerKind.O_RING))
    )
    assert answer.used_mm.sigma == pytest.approx(0.5)  # the length's own 0.3, not the matrix's 0.2


@pytest.mark.parametrize(
    "covariance", [((1.0, 2.0), (2.0, 1.0)), ((1.0, 0.5), (0.1, 1.0)), ((math.nan, 0.0), (0.0, 1.0))]
)
def test_impossible_covariance_is_refused(covariance):
    with pytest.raises(SuspensionError):
        JointInputs(("a", "b"), (1.0, 2.0), covariance)

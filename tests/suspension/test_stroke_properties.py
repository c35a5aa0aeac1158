"""What must hold for any leg: closure, both forms of used stroke, monotonicity, layouts alike."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from suspension.stroke.leg import Layout, State
from tests.helpers.present import present
from tests.helpers.stroke_cases import FORKS, ask, value

COMPRESSIONS, DISTANCES, RESTS = st.floats(0, 80), st.floats(3, 120), st.floats(8, 150)
QUICK = settings(max_examples=60, deadline=None)


@QUICK
@given(c=COMPRESSIONS, d=DISTANCES, gn=RESTS, layout=st.sampled_from(list(Layout)))
def test_both_forms_of_used_stroke_agree(c: float, d: float, gn: float, layout: Layout) -> None:
    e0 = c + d + gn
    by_seal = ask(layout, State.ON_WHEELS, e0=e0, e=d + gn, d=d)
    by_rest = ask(layout, State.UNKNOWN, e0=e0, gn=gn)
    hanging = ask(layout, State.HANGING, e=e0, d=c + d)
    for answer in (by_seal, by_rest, hanging):
        assert value(answer.used_mm) == pytest.approx(c + d, abs=1e-9)


@QUICK
@given(c=COMPRESSIONS, d=DISTANCES, gn=RESTS, dead=st.floats(0, 1), layout=st.sampled_from(FORKS))
def test_used_and_left_make_the_stroke(c: float, d: float, gn: float, dead: float, layout: Layout) -> None:
    e0 = c + d + gn
    stroke = e0 - dead * gn
    answer = ask(layout, State.RIDER_ABOARD, e0=e0, e=d + gn, d=d, gn=gn, s=stroke)
    assert value(answer.used_mm) + value(answer.reserve_hard_mm) == pytest.approx(stroke)
    assert value(answer.reserve_hard_mm) == pytest.approx(gn - value(answer.shortest_exposed_mm), abs=1e-9)


@QUICK
@given(gn=RESTS, d=DISTANCES, b=st.floats(10, 30), crushed=st.floats(0.3, 0.5))
def test_shock_reserves_differ_by_what_the_bumper_gives(
    gn: float, d: float, b: float, crushed: float
) -> None:
    answer = ask(Layout.SHOCK, State.ON_WHEELS, e0=d + gn, gn=gn, b=b, bs=crushed * b)
    assert value(answer.reserve_hard_mm) - value(answer.reserve_bumper_mm) == pytest.approx(b - crushed * b)
    assert value(answer.reserve_bumper_mm) == pytest.approx(gn)


@QUICK
@given(d=DISTANCES, gn=RESTS, more=st.floats(0.01, 3))
def test_used_grows_with_extended_length_and_shrinks_with_the_rest(d: float, gn: float, more: float) -> None:
    def used(e0: float, rest: float) -> float:
        return value(ask(Layout.FORK, State.UNKNOWN, e0=e0, gn=rest).used_mm)

    assume(gn + more < d + gn)
    assert used(d + gn + more, gn) > used(d + gn, gn) > used(d + gn, gn + more)


@QUICK
@given(d=DISTANCES, gn=RESTS, sd=st.floats(0, 1), more=st.floats(1.01, 3))
def test_doubt_grows_with_the_inputs_doubt(d: float, gn: float, sd: float, more: float) -> None:
    assume(sd > 0.001)

    def u_of(x: float) -> float:
        return present(ask(Layout.FORK, State.UNKNOWN, e0=d + gn, gn=gn, s=d + gn, sd=x).reserve_hard_mm).u95

    assert u_of(sd * more) > u_of(sd)


@QUICK
@given(c=COMPRESSIONS, d=DISTANCES, gn=RESTS, state=st.sampled_from([State.ON_WHEELS, State.UNKNOWN]))
def test_both_forks_have_one_geometry(c: float, d: float, gn: float, state: State) -> None:
    answers = [ask(layout, state, e0=c + d + gn, e=d + gn, d=d, gn=gn, s=c + d + gn / 2) for layout in FORKS]
    assert answers[0] == answers[1]


@QUICK
@given(d=st.floats(0, 200), gn=st.floats(0, 200), layout=st.sampled_from(list(Layout)))
def test_without_state_and_extended_length_nothing_is_called_used(
    d: float, gn: float, layout: Layout
) -> None:
    answer = ask(layout, State.UNKNOWN, e=d + gn, d=d, gn=gn, s=300.0)
    assert answer.used_mm is None and answer.used_percent is None

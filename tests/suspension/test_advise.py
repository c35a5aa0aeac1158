"""The next step. All rules [C], common practice with no source, as the trade gives them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suspension.advice.advise import advise, expected_after, instruction, target_mm
from suspension.advice.cautions import Caution, cautions_before_ride, cautions_for_advice, cautions_for_loads
from suspension.advice.facts import Action, Felt, RideFacts, Setup
from suspension.loads.limits import LoadVerdict, Plate, check_loads
from suspension.loads.loads import loads_by_scales
from suspension.quantities.quantity import Bound, Quantity
from suspension.sag.windows import End, Judgement
from suspension.springs.adjuster import Adjuster, AdjusterKind, Confidence, Count, CountedFrom
from suspension.stroke.verdict import Band
from tests.helpers.present import present

# Shock: Sb 80, S 92, w 2.5 -> target min(70.4, 74.5) = 70.4; in the window from 60 to 80.
CLICKS = Adjuster(AdjusterKind.CLICKS, last=12, step_mm=2.0)
REAR = Setup(End.REAR, CLICKS, Count(5), sag_room_mm=(8.0, 8.0), load=LoadVerdict.WITHIN)


def ride(
    used: float | None, bound: Bound = Bound.EXACT, felt: Any = (), sd: float = 0.4, **more: Any
) -> RideFacts:
    estimate = None if used is None else Quantity(used, sd, bound)
    return RideFacts(estimate, 80.0, 92.0, 2.5, frozenset(felt), **more)


def test_target() -> None:
    """min(0.88 Sb, Sb - w - 3 mm)"""
    assert target_mm(80, 92, 2.5) == pytest.approx(70.4)
    assert target_mm(40, None, 4.8) == pytest.approx(32.2)
    assert target_mm(None, 120, 3.6) == pytest.approx(105.6)  # S in place of Sb
    assert target_mm(80, 92, None) == pytest.approx(70.4)
    assert target_mm(None, None, 2.5) is None


@pytest.mark.parametrize("used", [20.0, 45.0, 58.0])
def test_one_quiet_ride_never_earns_less_preload(used: float) -> None:
    advice = advise(ride(used), REAR)
    assert advice.action is Action.NONE and advice.steps == 0 and advice.resulting_count == 5
    assert any("quiet ride is not enough reason" in words for words in advice.reasons)


@pytest.mark.parametrize("used", [61.5, 70.0, 78.5])
def test_in_the_window_no_change_and_two_runs_end_it(used: float) -> None:
    first = advise(ride(used), REAR)
    assert first.action is Action.NONE and first.stop is None and "Ride once more" in first.reasons[0]
    second = advise(ride(used, earlier_in_window=1), REAR)
    assert second.action is Action.NONE and "2 runs in the window" in present(second.stop)


@pytest.mark.parametrize("felt", [{Felt.HARSH}, {Felt.WALLOWS}, {Felt.DIVES}])
def test_in_the_window_no_feeling_changes_that(felt: Any) -> None:
    assert advise(ride(70, felt=felt), REAR).steps == 0


def test_above_the_window_more_towards_the_target() -> None:
    """steps = ceil((u - target)/(|B| p)), at most 2 clicks: (82 - 70.4)/2 -> 6, clipped to 2."""
    advice = advise(ride(82), REAR)
    assert advice.verdict.band is Band.BUMPER
    assert (advice.action, advice.steps, advice.resulting_count) == (Action.MORE, 2, 7)
    assert present(advice.expected_mm).value == pytest.approx(82 - 4)


@pytest.mark.parametrize(("step", "steps"), [(20.0, 1), (11.6, 1), (11.5, 2), (6.0, 2), (0.5, 2)])
def test_number_of_steps(step: float, steps: int) -> None:
    setup = replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, 12, step), sag_room_mm=(50.0, 50.0))
    assert advise(ride(82), setup).steps == steps


def test_weaker_effect_takes_more_steps() -> None:
    setup = replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, 12, 12.0), sag_room_mm=(50.0, 50.0))
    assert advise(ride(82), setup).steps == 1
    assert advise(ride(82), replace(setup, effect=Quantity(-0.7, 0.2))).steps == 2


@pytest.mark.parametrize(
    ("kind", "steps"), [(AdjusterKind.CLICKS, 2), (AdjusterKind.TURNS, 1), (AdjusterKind.POSITIONS, 1)]
)
def test_trade_example_in_the_bumper_two_clicks_at_a_time(kind: AdjusterKind, steps: int) -> None:
    """A rear marker found inside the bumper means more preload, two clicks at a time (one turn or position)."""
    setup = replace(REAR, adjuster=Adjuster(kind, last=12, step_mm=1.0))
    advice = advise(ride(77.5, Bound.AT_LEAST), setup)
    assert (advice.action, advice.steps) == (Action.MORE, steps) and advice.resulting_count == 5 + steps
    assert advice.expected_mm is None and "no next reading is predicted" in advice.reasons[0]
    assert "bottoming cannot be excluded" in advice.verdict.words


def test_marker_at_the_bumper_counts_without_extended_length() -> None:
    assert advise(ride(None, at_far_end=True), REAR).steps == 2


def test_below_with_sag_under_its_window_one_less() -> None:
    advice = advise(ride(50), replace(REAR, rider_sag=Judgement.UNDER))
    assert (advice.action, advice.steps, advice.resulting_count) == (Action.LESS, -1, 4)
    assert present(advice.expected_mm).value == pytest.approx(52)


def test_below_and_harsh_one_less() -> None:
    assert advise(ride(50, felt={Felt.HARSH}), REAR).steps == -1
    assert advise(ride(50, felt={Felt.WALLOWS}), REAR).steps == 0


def test_harsh_but_sag_would_leave_its_window() -> None:
    advice = advise(ride(50, felt={Felt.HARSH}), replace(REAR, sag_room_mm=(8.0, 1.5)))
    assert advice.steps == 0 and "over its window" in advice.reasons[-1] and advice.stop


def test_at_the_soft_end_nothing_is_left() -> None:
    advice = advise(ride(50, felt={Felt.HARSH}), replace(REAR, count=Count(0)))
    assert advice.steps == 0 and "softer spring" in present(advice.stop)


def test_felt_bottomed_against_a_quiet_marker() -> None:
    advice = advise(ride(50, felt={Felt.BOTTOMED, Felt.HARSH}), REAR)
    assert advice.steps == 0 and "marker is snug" in advice.reasons[0]
    assert any("snug" in words for words in advise(ride(70, felt={Felt.BOTTOMED}), REAR).remarks)


def test_between_is_no_ground_for_a_change() -> None:
    for used in (60, 80):
        advice = advise(ride(used), REAR)
        assert (
            advice.steps == 0
            and len(advice.verdict.bands) == 2
            and "again at this setting" in advice.reasons[0]
        )


# What holds a step back


def test_range_clips_and_its_end_stops() -> None:
    assert advise(ride(82), replace(REAR, count=Count(11))).steps == 1
    advice = advise(ride(82), replace(REAR, count=Count(12)))
    assert advice.action is Action.REVIEW and advice.steps == 0
    assert (
        "hard end" in present(advice.stop)
        and "spring and oil level" in present(advice.stop)
        and "Reduce the load" in present(advice.stop)
    )


def test_sag_window_clips_and_its_edge_stops() -> None:
    one = advise(ride(82), replace(REAR, sag_room_mm=(3.0, 9.0)))
    assert one.steps == 1 and "Fewer steps" in one.reasons[-1]
    none = advise(ride(82), replace(REAR, sag_room_mm=(1.0, 9.0)))
    assert none.action is Action.REVIEW and "under its window" in present(none.stop)


def test_bottoming_with_correct_sag_is_not_a_matter_of_preload() -> None:
    right = replace(REAR, rider_sag=Judgement.INSIDE)
    advice = advise(ride(92), right)
    assert advice.verdict.band is Band.BOTTOMED
    assert advice.action is Action.REVIEW and "spring rate, damping or air gap" in advice.reasons[0]
    assert advise(ride(77.5, Bound.AT_LEAST, felt={Felt.BOTTOMED}), right).action is Action.REVIEW
    assert advise(ride(77.5, Bound.AT_LEAST), right).steps == 2
    assert advise(ride(92), replace(REAR, rider_sag=Judgement.OVER)).steps == 2


def test_overload_is_never_answered_with_preload() -> None:
    advice = advise(ride(82), replace(REAR, load=LoadVerdict.OVER))
    assert advice.action is Action.REDUCE_LOAD and advice.steps == 0 and "load rating" in advice.reasons[0]
    unchecked = advise(ride(82), replace(REAR, load=LoadVerdict.NOT_CHECKED))
    assert unchecked.steps == 2 and any("Load not checked" in words for words in unchecked.remarks)
    assert any(
        "weigh it" in words for words in advise(ride(82), replace(REAR, load=LoadVerdict.BETWEEN)).remarks
    )


def test_small_step_cannot_be_shown_by_one_ride() -> None:
    """If the step's effect is under the ride-to-ride sd: steer by sag and pooled runs."""
    small = advise(ride(82), replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, 12, 1.0)))
    assert any("one ride cannot show it" in words for words in small.remarks)
    large = advise(ride(82), replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, 12, 3.0)))
    assert not any("one ride cannot show it" in words for words in large.remarks)


# What is not known


def test_count_in_doubt_is_counted_again_first() -> None:
    for count in (
        Count(None),
        Count(5, confidence=Confidence.IN_DOUBT),
        Count(5, confidence=Confidence.UNKNOWN),
    ):
        advice = advise(ride(82), replace(REAR, count=count))
        assert advice.recount_first and advice.resulting_count is None and advice.steps == 2
        assert "count again" in instruction(advice, replace(REAR, count=count))


def test_result_is_counted_from_the_soft_end() -> None:
    setup = replace(REAR, count=Count(7, CountedFrom.HARD))
    advice = advise(ride(82), setup)
    assert advice.resulting_count == 7
    assert (
        instruction(advice, setup)
        == "Rear preload: 2 clicks more on both sides, to 7 clicks up from the soft end."
    )
    unknown_range = replace(setup, adjuster=Adjuster(AdjusterKind.CLICKS, step_mm=2.0))
    assert advise(ride(82), unknown_range).recount_first


def test_without_mm_a_step_one_step_and_no_expectation() -> None:
    """Missing: p -> clicks, no mm."""
    advice = advise(ride(82), replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, 12)))
    assert advice.steps == 1 and advice.expected_mm is None and "not known" in advice.reasons[-1]


def test_without_strokes_no_verdict_and_no_change() -> None:
    """Missing: S and Sb -> mm, no verdict."""
    facts = RideFacts(Quantity(82, 0.4), marker_width_mm=2.5)
    advice = advise(facts, REAR)
    assert advice.steps == 0 and advice.verdict.bands == () and advice.target_mm is None


def test_no_valid_reading() -> None:
    advice = advise(ride(None), REAR)
    assert advice.action is Action.READ_AGAIN and advice.steps == 0 and advice.expected_mm is None


def test_what_else_the_rider_should_know() -> None:
    remarks = " ".join(advise(ride(82, legs_differ=True), replace(REAR, sag_room_mm=None)).remarks)
    assert "binding or a slipped marker" in remarks and "measure it before and after" in remarks
    open_end = replace(REAR, adjuster=Adjuster(AdjusterKind.CLICKS, step_mm=2.0))
    assert any("never force it" in words for words in advise(ride(82), open_end).remarks)
    assert any("has not moved" in w for w in advise(ride(30, Bound.AT_MOST), REAR).remarks)
    assert any(
        "over its window" in w for w in advise(ride(70), replace(REAR, rider_sag=Judgement.OVER)).remarks
    )


def test_ramp_positions_use_their_own_mm() -> None:
    ramp = Adjuster(AdjusterKind.POSITIONS, positions_mm=(0, 4, 9, 13))
    setup = replace(REAR, adjuster=ramp, count=Count(2))
    advice = advise(ride(82), setup)
    assert advice.steps == 1 and present(advice.expected_mm).value == pytest.approx(82 - 5)
    assert "to ramp position 3 from the soft end" in instruction(advice, setup)
    assert advise(ride(82), replace(setup, sag_room_mm=(4.5, 9))).action is Action.REVIEW
    assert advise(ride(82), replace(setup, count=Count(4))).action is Action.REVIEW


def test_expectation_has_both_rides_scatter() -> None:
    """[D] sd² = u² + (N p sd_B)² + 2 sd_ride²."""
    expected = expected_after(Quantity(82, 0.5), 2, replace(REAR, ride_sd_mm=4.0))
    assert present(expected).sigma == pytest.approx((0.5**2 + (4 * 0.3) ** 2 + 2 * 4**2) ** 0.5)
    assert expected_after(Quantity(82, 0.5, Bound.AT_LEAST), 2, REAR) is None


# The front


FRONT = Setup(
    End.FRONT,
    Adjuster(AdjusterKind.TURNS, 15, 1.0),
    Count(4),
    sag_room_mm=(5.0, 5.0),
    load=LoadVerdict.WITHIN,
)


def test_front_in_turns() -> None:
    facts = RideFacts(Quantity(120, 0.3), None, 120, 3.6)
    advice = advise(facts, FRONT)
    assert advice.verdict.by_stroke and (advice.steps, advice.resulting_count) == (1, 5)
    assert "1 turn more on both sides, to 5 turns up from the soft end" in instruction(advice, FRONT)
    assert "1 turn more, to 5 turns up from the soft end" in instruction(advice, FRONT, legs=1)


def test_dive_is_told_with_its_cost_in_sag_and_not_advised() -> None:
    facts = RideFacts(Quantity(100, 0.3), None, 120, 3.6, frozenset({Felt.DIVES}))
    advice = advise(facts, FRONT)
    words = " ".join(advice.remarks)
    assert (
        advice.steps == 0
        and "about 1.0 mm of stroke higher under braking" in words
        and "1.0 mm of sag" in words
    )
    assert "The rate, and so the dive itself, does not change" in words
    tight = " ".join(advise(facts, replace(FRONT, sag_room_mm=(0.5, 5.0))).remarks)
    assert "under its window" in tight
    unknown = replace(FRONT, adjuster=Adjuster(AdjusterKind.TURNS, 15))
    assert "is not known" in " ".join(advise(facts, unknown).remarks)
    assert not any("dive" in words for words in advise(facts, replace(FRONT, end=End.REAR)).remarks)


# What must hold


@settings(max_examples=200)
@given(
    used=st.floats(0, 95),
    sd=st.floats(0.1, 3),
    bound=st.sampled_from(list(Bound)),
    felt=st.sets(st.sampled_from(list(Felt))),
    kind=st.sampled_from([AdjusterKind.CLICKS, AdjusterKind.TURNS]),
    count=st.integers(0, 12),
    step=st.one_of(st.none(), st.floats(0.2, 4)),
    sag=st.sampled_from(list(Judgement)),
    room=st.one_of(st.none(), st.tuples(st.floats(0, 9), st.floats(0, 9))),
    load=st.sampled_from(list(LoadVerdict)),
)
def test_invariants(
    used: float,
    sd: float,
    bound: Bound,
    felt: set[Felt],
    kind: AdjusterKind,
    count: int,
    step: float | None,
    sag: Judgement,
    room: tuple[float, float] | None,
    load: LoadVerdict,
) -> None:
    setup = Setup(
        End.REAR, Adjuster(kind, 12, step), Count(count), rider_sag=sag, sag_room_mm=room, load=load
    )
    advice = advise(ride(used, bound, felt, sd), setup)
    assert -1 <= advice.steps <= kind.most_at_once
    assert 0 <= present(advice.resulting_count) <= 12 and advice.resulting_count == count + advice.steps
    assert (advice.steps > 0) is (advice.action is Action.MORE)
    assert (advice.steps < 0) is (advice.action is Action.LESS)
    if advice.steps < 0:
        assert advice.verdict.band is Band.PLENTY and (sag is Judgement.UNDER or Felt.HARSH in felt)
    if advice.steps > 0:
        assert advice.verdict.is_above_window or bound is Bound.AT_LEAST
        assert load is not LoadVerdict.OVER
    if room is not None and step is not None and advice.steps:
        assert abs(advice.steps) * step <= room[0 if advice.steps > 0 else 1] + 1e-6
    assert advice.reasons and all(words.endswith(".") for words in (*advice.reasons, *advice.remarks))


@settings(max_examples=60)
@given(st.floats(81, 95), st.floats(0.1, 10))
def test_deeper_never_takes_fewer_steps(used: float, deeper: float) -> None:
    assert advise(ride(used + deeper), REAR).steps >= advise(ride(used), REAR).steps


# Cautions where they matter


def test_cautions_follow_the_advice() -> None:
    quiet = cautions_for_advice(advise(ride(70), REAR))
    assert quiet == ()
    change = cautions_for_advice(advise(ride(82), REAR))
    assert {Caution.STAND, Caution.RANGE, Caution.AFTER_CHANGE} <= set(
        change
    ) and Caution.STOP_RIDING not in change
    hit = cautions_for_advice(advise(ride(77.5, Bound.AT_LEAST), REAR))
    assert {Caution.STOP_RIDING, Caution.NO_BOTTOMING} <= set(hit)
    assert Caution.SPRINGS in cautions_for_advice(advise(ride(82), replace(REAR, count=Count(12))))
    assert cautions_for_advice(advise(ride(82), replace(REAR, load=LoadVerdict.OVER))) == (Caution.LOAD,)
    assert cautions_for_advice(advise(ride(None), REAR)) == (Caution.MARKER,)
    assert Caution.RANGE in cautions_for_advice(advise(ride(70), replace(REAR, count=Count(None))))
    assert Caution.MARKER in cautions_before_ride()


def test_cautions_follow_the_loads() -> None:
    loads = loads_by_scales(Quantity(150, 0.5), Quantity(200, 0.5))
    assert cautions_for_loads(check_loads(loads, Plate(420, 180, 240))) == ()
    assert cautions_for_loads(check_loads(loads, Plate(420, 180))) == (Caution.LOAD,)

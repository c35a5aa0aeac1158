"""Kept lengths of a sag session on their way to the arithmetic."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from ridelog.names import LegName, Use
from ridelog.storage.records import Approach, SagLength, SagMeasurement, SagSession
from strandline.facts import sag as facts
from suspension.sag import sag as arithmetic
from suspension.sag.sag import TwoApproaches
from suspension.sag.windows import WhichSag
from suspension.stroke.leg import State
from tests.helpers.made_records import TYPED, bike_file, length


def measured(state: State, value: float, approach: Approach = Approach.NOT_STATED) -> SagMeasurement:
    return SagMeasurement(
        LegName.REAR, SagLength.AXLE_TO_TAIL, state, length(value), TYPED, approach=approach
    )


def session(*lengths: SagMeasurement) -> SagSession:
    return SagSession(dt.date(2026, 5, 1), "", TYPED, lengths)


@pytest.fixture
def handed_over(monkeypatch: pytest.MonkeyPatch) -> list[TwoApproaches]:
    """The pairs of lengths under a load that the arithmetic is given."""
    given: list[TwoApproaches] = []

    def work_out(which: Any, hanging: Any, loaded: TwoApproaches, scale: Any) -> Any:
        given.append(loaded)
        return arithmetic.sag_from_lengths(which, hanging, loaded, scale)

    monkeypatch.setattr(facts, "sag_from_lengths", work_out)
    return given


def test_risen_is_from_below_and_settled_from_above(handed_over: list[TwoApproaches]) -> None:
    facts.place_sags(
        session(
            measured(State.HANGING, 600.0),
            measured(State.ON_WHEELS, 590.0, Approach.FROM_ABOVE),
            measured(State.ON_WHEELS, 586.0, Approach.FROM_BELOW),
        ),
        bike_file().bike,
        Use.STREET,
    )
    (pair,) = handed_over
    assert pair.risen_mm.value == 586.0
    assert pair.settled_mm is not None and pair.settled_mm.value == 590.0


def test_static_and_rider_sag_by_the_trades_definition() -> None:
    # Static = L0 - mean(L1a, L1b), rider = L0 - mean(L2a, L2b): 600 - 588 and 600 - 571, by hand.
    (place,) = facts.place_sags(
        session(
            measured(State.HANGING, 600.0),
            measured(State.ON_WHEELS, 586.0, Approach.FROM_BELOW),
            measured(State.ON_WHEELS, 590.0, Approach.FROM_ABOVE),
            measured(State.RIDER_ABOARD, 568.0, Approach.FROM_BELOW),
            measured(State.RIDER_ABOARD, 574.0, Approach.FROM_ABOVE),
        ),
        bike_file().bike,
        Use.STREET,
    )
    static, rider = place.sag(WhichSag.STATIC), place.sag(WhichSag.RIDER)
    assert static is not None and static.length.mm.value == pytest.approx(12.0)
    assert rider is not None and rider.length.mm.value == pytest.approx(29.0)
    assert (static.stiction_mm, rider.stiction_mm) == (pytest.approx(4.0), pytest.approx(6.0))

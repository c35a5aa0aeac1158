"""The check values of the marker geometry, in every layout and state.

Source: the trade's own geometry, derived (c = E0 - E, u = c + d = E0 - gn, Emin = E0 - S; a shock's
S = E0 + b - bs): fork E0 205, E 175, d 62, S 120, w 3.6 -> c 30, u 92, gn 113, Emin 85, reserve 28; shock
E0 80 to the bumper's face, b 20, bs 8, E 65, d 50, w 2.5 -> c 15, u 65, gn 15, S 92, hard reserve 27.
"""

from __future__ import annotations

from typing import Any

import pytest

from suspension.stroke.leg import Layout, State
from suspension.stroke.stops import hard_stop_of_shock_mm, shortest_exposed_mm
from tests.helpers.stroke_cases import FORKS, LOADED, ask, value

FORK: dict[str, Any] = {"e0": 205.0, "e": 175.0, "d": 62.0, "gn": 113.0, "s": 120.0, "w": 3.6}
SHOCK: dict[str, Any] = {"e0": 80.0, "e": 65.0, "d": 50.0, "gn": 15.0, "b": 20.0, "bs": 8.0, "w": 2.5}


@pytest.mark.parametrize("layout", FORKS)
@pytest.mark.parametrize("state", [*LOADED, State.UNKNOWN])
@pytest.mark.parametrize("missing", [(), ("gn",), ("e", "d"), ("d",)])
def test_fork_compressed(layout: Layout, state: State, missing: tuple[str, ...]) -> None:
    known: dict[str, Any] = {k: v for k, v in FORK.items() if k not in missing}
    answer = ask(layout, state, **known)
    assert value(answer.used_mm) == pytest.approx(92)
    assert value(answer.reserve_hard_mm) == pytest.approx(28)
    assert value(answer.shortest_exposed_mm) == pytest.approx(85)
    assert value(answer.used_percent) == pytest.approx(100 * 92 / 120)
    assert answer.reserve_bumper_mm is None
    assert not answer.at_least and not answer.at_most
    if "e" in known:
        assert value(answer.compression_mm) == pytest.approx(30)


@pytest.mark.parametrize("layout", FORKS)
@pytest.mark.parametrize("e0", [205.0, None])
@pytest.mark.parametrize("missing", [(), ("gn",), ("d",)])
def test_fork_hanging_needs_no_extended_length(
    layout: Layout, e0: float | None, missing: tuple[str, ...]
) -> None:
    known: dict[str, Any] = {**FORK, "e": 205.0, "d": 92.0, "e0": e0}
    answer = ask(layout, State.HANGING, **{k: v for k, v in known.items() if k not in missing})
    assert value(answer.compression_mm) == 0
    assert value(answer.used_mm) == pytest.approx(92)
    assert value(answer.reserve_hard_mm) == pytest.approx(28)
    assert value(answer.shortest_exposed_mm) == pytest.approx(85)


def test_hanging_with_the_seal_distance_alone() -> None:
    answer = ask(Layout.FORK, State.HANGING, d=92.0, s=120.0)
    assert value(answer.used_mm) == pytest.approx(92)
    assert value(answer.reserve_hard_mm) == pytest.approx(28)


@pytest.mark.parametrize("state", [*LOADED, State.UNKNOWN])
def test_shock_compressed(state: State) -> None:
    answer = ask(Layout.SHOCK, state, **SHOCK)
    assert value(answer.compression_mm) == pytest.approx(15)
    assert value(answer.used_mm) == pytest.approx(65)
    assert value(answer.hard_stop_mm) == pytest.approx(92)
    assert value(answer.reserve_bumper_mm) == pytest.approx(15)
    assert value(answer.reserve_hard_mm) == pytest.approx(27)
    assert value(answer.used_percent) == pytest.approx(100 * 65 / 92)
    assert answer.shortest_exposed_mm is None


@pytest.mark.parametrize("e0", [80.0, None])
def test_shock_hanging(e0: float | None) -> None:
    answer = ask(Layout.SHOCK, State.HANGING, **{**SHOCK, "e": 80.0, "d": 65.0, "e0": e0})
    assert value(answer.used_mm) == pytest.approx(65)
    assert value(answer.reserve_bumper_mm) == pytest.approx(15)
    assert value(answer.reserve_hard_mm) == pytest.approx(27)


def test_shock_with_a_stated_stroke_only() -> None:
    answer = ask(Layout.SHOCK, State.ON_WHEELS, e0=80.0, gn=15.0, s=92.0)
    assert value(answer.reserve_hard_mm) == pytest.approx(27)


@pytest.mark.parametrize("state", [*LOADED, State.UNKNOWN])
def test_shock_reserve_needs_neither_extended_length_nor_stroke(state: State) -> None:
    answer = ask(Layout.SHOCK, state, gn=15.0, w=2.5)
    assert value(answer.reserve_bumper_mm) == pytest.approx(15)
    assert answer.used_mm is None and answer.reserve_hard_mm is None and answer.used_percent is None
    assert value(ask(Layout.SHOCK, state, gn=15.0, b=20.0, bs=8.0).reserve_hard_mm) == pytest.approx(27)


def test_stops_by_themselves() -> None:
    assert shortest_exposed_mm(205, 120) == 85
    assert hard_stop_of_shock_mm(80, 20, 8) == 92


@pytest.mark.parametrize("layout", list(Layout))
def test_seal_distance_is_never_taken_for_used_stroke_without_a_state(layout: Layout) -> None:
    answer = ask(layout, State.UNKNOWN, e=175.0, d=62.0, gn=113.0)
    assert answer.used_mm is None and answer.used_percent is None
    assert any("not used as such" in words for words in answer.withheld)


@pytest.mark.parametrize("state", LOADED)
def test_loaded_without_extended_length_says_what_is_missing(state: State) -> None:
    answer = ask(Layout.FORK, state, e=175.0, d=62.0, gn=113.0, s=120.0)
    assert answer.used_mm is None and answer.reserve_hard_mm is None and answer.compression_mm is None
    assert any("hanging length" in words and "still holds" in words for words in answer.withheld)

"""Other part segmentations are asked where lengths are open, and believed on conditions only: made-up readings."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vision import read
from vision.names import LengthName, RimName
from vision.networks.run import FIRST_PARTS, OTHER_PARTS
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason
from vision.rims.choose import Choice
from vision.rims.second_opinion import SecondOpinion

OPEN = Reading(Status.PARTIAL, (Note(Reason.FAR_END_HIDDEN),), marker=Length(60.0, 0.8))
WHOLE = Reading(
    Status.READ, exposed=Length(101.0, 1.0), marker=Length(60.7, 0.4), remaining=Length(40.3, 0.9)
)


THIRD, BOTH_NEW = ((first, OTHER_PARTS[1]) for first in FIRST_PARTS)


def asked(
    monkeypatch: pytest.MonkeyPatch,
    first: Reading,
    other: Reading,
    by_both_new: Reading | None = None,
    covered: tuple[RimName, ...] = (),
) -> tuple[Reading, list[tuple[str, str]]]:
    """Give back what is believed of a reading and the other networks', and which pairs of networks were asked.

    `covered` are ends that the first reading leaves out because something lies over or before them.
    """
    pairs: list[tuple[str, str]] = []
    rim: Any = object()
    ends = Choice(rims={RimName.SEAL: rim, RimName.FAR_END: rim}) if covered else None

    def measured(_pixels: Any, _seen: Any, _known: Any, _request: Any, second: SecondOpinion) -> Any:
        pairs.append((second.first, second.network))
        return (by_both_new or other) if len(pairs) > 1 else other, read.Trace(choice=ends)

    monkeypatch.setattr(read, "_measured", measured)
    monkeypatch.setattr(read, "by_network", lambda seen, _diameter_mm, _network: seen)
    nothing: Any = None
    seen: Any = object()
    request: Any = SimpleNamespace(declared=SimpleNamespace(diameter_mm=40.0))
    trace = read.Trace(seen, second=SecondOpinion(np.zeros((1, 1, 3)), nothing, 40.0), covered=covered)
    out = read._with_other_networks(np.zeros((1, 1, 3)), nothing, request, first, trace)
    return out[0], pairs


def test_it_is_believed_where_it_leaves_fewer_lengths_open(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked(monkeypatch, OPEN, WHOLE) == (WHOLE, [THIRD])


def test_a_whole_reading_costs_nothing_more(monkeypatch: pytest.MonkeyPatch) -> None:
    assert asked(monkeypatch, WHOLE, OPEN) == (WHOLE, [])


def test_it_is_not_believed_for_a_smaller_uncertainty_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    as_open = replace(OPEN, marker=Length(60.1, 0.2))
    assert asked(monkeypatch, OPEN, as_open)[0] == OPEN


@pytest.mark.parametrize(("marker_mm", "believed"), [(60.79, True), (60.81, False), (59.19, False)])
def test_both_must_agree_on_what_both_know(
    monkeypatch: pytest.MonkeyPatch, marker_mm: float, believed: bool
) -> None:
    """Within the larger of both expanded uncertainties, 0.8 mm."""
    other = replace(WHOLE, marker=Length(marker_mm, 0.4))
    assert asked(monkeypatch, OPEN, other)[0] == (other if believed else OPEN)


def test_a_card_that_the_ends_call_backwards_is_not_read_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    refused = Reading(Status.REFUSED, (Note(Reason.CARD_BACKWARDS),))
    assert asked(monkeypatch, refused, WHOLE) == (refused, [])


def test_it_does_not_say_which_end_is_the_seal_where_the_looks_leave_it_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its looks have been weighed with the others' by then."""
    either = Reading(Status.PARTIAL, (Note(Reason.CARD_BACKWARDS, LengthName.MARKER),), exposed=WHOLE.exposed)
    assert asked(monkeypatch, either, WHOLE) == (either, [])


def test_a_band_that_two_networks_do_not_see_is_no_marker(monkeypatch: pytest.MonkeyPatch) -> None:
    none_seen = Reading(Status.PARTIAL, (Note(Reason.NO_MARKER, LengthName.MARKER),), exposed=WHOLE.exposed)
    assert asked(monkeypatch, none_seen, WHOLE)[0] == none_seen
    nothing = Reading(Status.REFUSED, none_seen.notes)
    assert asked(monkeypatch, nothing, none_seen)[0] == none_seen, "the exposed length needs no marker"


def test_both_new_networks_are_asked_where_the_third_beside_the_first_leaves_lengths_open(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert asked(monkeypatch, OPEN, OPEN, WHOLE) == (WHOLE, [THIRD, BOTH_NEW])


def test_both_new_networks_must_agree_with_what_was_not_believed_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The third beside the first puts the marker elsewhere: then nobody's further lengths are believed."""
    elsewhere = replace(WHOLE, marker=Length(64.0, 0.4))
    assert asked(monkeypatch, OPEN, elsewhere, WHOLE) == (OPEN, [THIRD, BOTH_NEW])


def test_an_end_before_which_the_first_two_see_something_is_not_believed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A splash that looks like a circle to one, or a fender's edge that is square to one."""
    assert asked(monkeypatch, OPEN, WHOLE, covered=(RimName.FAR_END,)) == (OPEN, [THIRD, BOTH_NEW])

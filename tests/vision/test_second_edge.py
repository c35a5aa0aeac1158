"""A second edge before an end: made-up views along a shaft; what is expected follows from them."""

from __future__ import annotations

from typing import Any
from unittest.mock import MagicMock

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, bands, part_map
from vision import read
from vision.geometry.views import READER_ROWS
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout, Length, Note, Reading, Status
from vision.reasons import Reason
from vision.rims.candidates import find_borders
from vision.rims.choose import Choice
from vision.rims.points import far_points, marker_points, seal_points
from vision.rims.second_edge import second_edges

SEAL_ROW, MARKER, FAR_ROW = 200, (500, 515), 800
# Ten rows (2.5 mm), 20 mm from the seal, or as far from the far end.
BY_THE_SEAL, BY_THE_FAR_END = 280, 720


def view_with(part: Part | None = None, row: int = 0, share: float = 1.0, marker: bool = True) -> np.ndarray:
    """Draw a shaft with its ends and a marker, and what a network sees in ten rows of it, with what probability."""
    parts = [(Part.SEAL, SEAL_ROW), (Part.SHAFT, MARKER[0]), (Part.MARKER, MARKER[1]), (Part.SHAFT, FAR_ROW)]
    if not marker:
        parts = [(Part.SEAL, SEAL_ROW), (Part.SHAFT, FAR_ROW)]
    p = bands(*parts, (Part.FAR_END, READER_ROWS))
    if part is not None:
        p[Part.SHAFT, row : row + 10] -= share * 0.99
        p[part, row : row + 10] += share * 0.99
    return p


def rims_of(classes: np.ndarray) -> dict[RimName, Any]:
    parts = part_map(classes)
    found = find_borders(parts)
    out: dict[RimName, Any] = {
        RimName.SEAL: seal_points(found.rims((Part.SEAL,), (Part.SHAFT,))[0], parts),
        RimName.FAR_END: far_points(found.rims((Part.SHAFT,), (Part.FAR_END,))[0], parts, Layout.FORK),
    }
    near = found.rims((Part.SHAFT,), (Part.MARKER,))
    if near:
        far = found.rims((Part.MARKER,), (Part.SHAFT,))
        for name, rim in zip((RimName.MARKER_NEAR, RimName.MARKER_FAR), (near[0], far[0]), strict=True):
            out[name] = marker_points(name, rim, FRAME)
    return out


class Second:
    """Another network, which counts how often it is asked."""

    def __init__(self, seen: np.ndarray) -> None:
        self._seen, self.asked = seen, 0

    @property
    def alone(self) -> np.ndarray:
        self.asked += 1
        return self._seen


def in_question(first: np.ndarray, second: np.ndarray, marker: bool = True) -> tuple[RimName, ...]:
    other: Any = Second(second)
    return second_edges(rims_of(view_with(marker=marker)), first, other, FRAME)


@pytest.mark.parametrize("marker", [True, False])
@pytest.mark.parametrize(
    ("row", "names"), [(BY_THE_SEAL, (RimName.SEAL,)), (BY_THE_FAR_END, (RimName.FAR_END,)), (0, ())]
)
def test_the_end_nearer_to_it_is_open(row: int, names: tuple[RimName, ...], marker: bool) -> None:
    """With a marker the end on its side; without one the end of its half."""
    seam = view_with(Part.SEAL if row else None, row, marker=marker)
    assert in_question(seam, seam, marker) == names


def test_what_one_network_sees_alone_is_no_edge() -> None:
    seam, nothing = view_with(Part.SEAL, BY_THE_SEAL), view_with()
    assert in_question(seam, nothing) == in_question(nothing, seam) == ()


@pytest.mark.parametrize(("other", "names"), [(0, (RimName.SEAL,)), (40, ())])
def test_both_must_see_it_in_one_place(other: int, names: tuple[RimName, ...]) -> None:
    here, there = (view_with(Part.SEAL, BY_THE_SEAL + more) for more in (0, other))
    assert in_question(here, there) == names


def test_the_second_network_is_not_asked_about_a_bare_shaft() -> None:
    second: Any = Second(view_with())
    assert second_edges(rims_of(view_with()), view_with(), second, FRAME) == ()
    assert second.asked == 0


def test_a_ring_to_both_is_no_end() -> None:
    """An O-ring from the factory, or a second marker."""
    ring, seam = view_with(Part.MARKER, BY_THE_SEAL), view_with(Part.SEAL, BY_THE_SEAL)
    assert in_question(ring, ring) == ()
    assert in_question(ring, seam) == in_question(seam, ring) == (RimName.SEAL,)


@pytest.mark.parametrize(("share", "names"), [(0.65, (RimName.SEAL,)), (0.85, ())])
def test_how_much_of_it_must_be_a_ring(share: float, names: tuple[RimName, ...]) -> None:
    mixed = share * view_with(Part.MARKER, BY_THE_SEAL) + (1 - share) * view_with(Part.SEAL, BY_THE_SEAL)
    assert in_question(mixed, mixed) == names


@pytest.mark.parametrize(("share", "names"), [(0.05, ()), (0.15, (RimName.SEAL,))])
def test_how_much_of_the_shaft_must_show_it(share: float, names: tuple[RimName, ...]) -> None:
    seam = view_with(Part.SEAL, BY_THE_SEAL, share)
    assert in_question(seam, seam) == names


@pytest.mark.parametrize("row", [SEAL_ROW + 4, MARKER[0] - 14, MARKER[1] + 4, FAR_ROW - 14])
def test_what_blurs_beside_an_end_or_the_marker_is_no_edge(row: int) -> None:
    """A lip's shadow, or a tie's lock."""
    seam = view_with(Part.SEAL, row)
    assert in_question(seam, seam) == ()


@pytest.mark.parametrize("part", [Part.ELSE, Part.IN_FRONT, Part.LOCK])
def test_what_only_lies_over_the_shaft_is_no_edge(part: Part) -> None:
    over = view_with(part, BY_THE_SEAL)
    assert in_question(over, over) == ()


def test_an_edge_is_followed_along_the_arc_of_the_end() -> None:
    """Seen from 10 degrees above its height differs from column to column by more than the seam is wide."""
    flat = view_with(Part.SEAL, BY_THE_SEAL, share=0.14)
    u = FRAME.u()
    down = np.rint(60 * (np.sqrt(1 - np.clip(np.abs(u), 0, 0.95) ** 2) - 1)).astype(int)
    arcs = np.stack([np.roll(flat[:, :, k], down[k], axis=1) for k in range(len(u))], axis=2)
    bare = np.stack([np.roll(view_with()[:, :, k], down[k], axis=1) for k in range(len(u))], axis=2)
    second: Any = Second(arcs)
    assert second_edges(rims_of(bare), arcs, second, FRAME) == (RimName.SEAL,)


@pytest.mark.parametrize(("left_out", "known"), [((RimName.SEAL,), 1), ((), 3)])
def test_the_longer_view_does_not_bring_back_an_end_that_is_open(
    monkeypatch: pytest.MonkeyPatch, left_out: tuple[RimName, ...], known: int
) -> None:
    """The longer view sees the collar's lower edge alone, and would read all three lengths from it."""
    seen: Any = type("Seen", (), {"guess": None})()
    open_one = Reading(Status.PARTIAL, (Note(Reason.SEAL_HIDDEN),), remaining=Length(60.0, 0.5))
    whole = Reading(
        Status.READ, exposed=Length(135.0, 0.7), marker=Length(75.0, 0.5), remaining=Length(60.0, 0.5)
    )

    def one_way(
        _pixels: Any, _request: Any, _sighting: Any, than: Any = "none"
    ) -> tuple[Reading, read.Trace]:
        if than == "none":
            return open_one, read.Trace(seen, covered=left_out)
        return whole, read.Trace(seen, Choice(rims=rims_of(view_with())))

    monkeypatch.setattr(read, "_read_one_way", one_way)
    nothing: Any = None
    assert read._read_either_way(np.zeros((1, 1, 3), np.uint8), nothing, nothing)[0].known[0] == known


@pytest.mark.parametrize(
    ("found", "ends"), [((RimName.SEAL,), {RimName.FAR_END}), ((), {RimName.SEAL, RimName.FAR_END})]
)
def test_an_end_that_is_open_is_left_out_and_named(
    monkeypatch: pytest.MonkeyPatch, found: tuple[RimName, ...], ends: set[RimName]
) -> None:
    """No look at the photo may bring it back: the trace names it with those that something covers."""
    nothing: Any = None
    rims = rims_of(view_with(marker=False))
    measured: list[Choice] = []

    def lengths(known: Reading, _fit: Any, choice: Choice) -> tuple[Reading, Any]:
        measured.append(choice)
        return known, nothing

    for name in ("RimRefiner", "BandOutline", "standing_odds"):
        monkeypatch.setattr(read, name, lambda *_: nothing)
    monkeypatch.setattr(read, "choose_by_both", lambda *_: Choice(rims=rims, unrefined=rims))
    monkeypatch.setattr(read, "second_edges", lambda *_: found)
    monkeypatch.setattr(read, "with_soft_rims", lambda choice, _blur: choice)
    monkeypatch.setattr(read, "lengths", lengths)
    monkeypatch.setattr(read, "with_geometry", lambda reading, *_: reading)
    seen: Any = MagicMock(frame=FRAME)
    request: Any = MagicMock(layout=Layout.FORK, stated=None, marker_color=None)
    trace = read._measured(np.zeros((4000, 3000, 3), np.uint8), seen, Reading(Status.READ), request, nothing)[
        1
    ]
    assert set(measured[0].rims) == ends
    assert trace.covered == found
    assert [note.reason for note in measured[0].notes] == [Reason.SEAL_HIDDEN] * len(found)

"""Which borders count as rims, on made-up classes; what is expected follows from how they were made."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, part_map
from vision.geometry.views import READER_COLUMNS, READER_ROWS, READER_STEP_MM
from vision.names import LengthName, RimName
from vision.networks.classes import Part
from vision.reading import Layout
from vision.reasons import Reason
from vision.rims import choose_marker
from vision.rims.choose import Choice, choose
from vision.rims.choose_marker import MAY_BE_SEAL_LIP_NOTE
from vision.rims.far_end import END_CLARITY, SECOND_END_MM

# Rows around the middle, which the camera sees square-on: circles round the shaft are straight there.
SEAL_ROW, FAR_ROW, CLAMP_ENDS_ROW = 450, 560, 760


def ending_at(rows: np.ndarray) -> np.ndarray:
    """Classes (7, rows, columns) of a shaft from the seal on that ends at these rows, one a column."""
    p = np.full((7, READER_ROWS, READER_COLUMNS), 0.001, np.float32)
    row = np.arange(READER_ROWS)[:, None]
    p[Part.SEAL][row[:, 0] < SEAL_ROW] = 0.994
    p[Part.SHAFT][(row >= SEAL_ROW) & (row < rows)] = 0.994
    p[Part.FAR_END][(row >= rows) & (row < CLAMP_ENDS_ROW)] = 0.994
    p[Part.ELSE, CLAMP_ENDS_ROW:] = 0.994
    return p


def chosen(rows: np.ndarray) -> Choice:
    return choose(part_map(ending_at(rows)), Layout.FORK, None)


def test_a_shaft_that_ends_in_one_place_ends_there() -> None:
    found = chosen(np.full(READER_COLUMNS, FAR_ROW))
    assert RimName.SEAL in found.rims and RimName.FAR_END in found.rims


@pytest.mark.parametrize("share", [END_CLARITY - 0.05, END_CLARITY + 0.05])
def test_a_far_end_that_is_not_clear_is_none(share: float) -> None:
    p = ending_at(np.full(READER_COLUMNS, FAR_ROW))
    clamp = slice(FAR_ROW, CLAMP_ENDS_ROW)
    p[Part.FAR_END, clamp], p[Part.ELSE, clamp] = share, 0.995 - share
    found = choose(part_map(p), Layout.FORK, None)
    assert RimName.SEAL in found.rims
    assert (RimName.FAR_END in found.rims) is (share > END_CLARITY)


@pytest.mark.parametrize("share", [0.66, 0.8])
def test_a_band_that_is_not_clear_is_no_marker(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """As networks see a dirty ring: a marker by two thirds, and shaft by the rest; however far it reaches round."""
    monkeypatch.setattr(choose_marker, "NOT_ROUND_MM", -100.0)
    p = ending_at(np.full(READER_COLUMNS, FAR_ROW))
    band = slice(500, 510)
    p[Part.MARKER, band], p[Part.SHAFT, band] = share, 0.995 - share
    found = choose(part_map(p), Layout.FORK, None)
    assert (RimName.MARKER_NEAR in found.rims) is (share > 0.75)
    assert (Reason.NO_MARKER in [note.reason for note in found.notes]) is (share < 0.75)


@pytest.mark.parametrize("further_mm", [SECOND_END_MM + 2, 25.0])
def test_a_shaft_that_ends_in_two_places_ends_nowhere_known(further_mm: float) -> None:
    """A clamp that mirrors the shaft shows it once more, narrower, where it has long ended."""
    middle = np.abs(FRAME.u()) < 0.5
    found = chosen(np.where(middle, FAR_ROW + int(further_mm / READER_STEP_MM), FAR_ROW))
    assert RimName.SEAL in found.rims and RimName.FAR_END not in found.rims
    assert Reason.FAR_END_HIDDEN in [note.reason for note in found.notes]


@pytest.mark.parametrize(("per_radius_mm", "aslant"), [(0.0, False), (0.8, False), (1.6, True)])
def test_an_edge_aslant_is_no_far_end_and_is_known_as_such(per_radius_mm: float, aslant: bool) -> None:
    """A fender's edge; the limit is 0.06 rad: 1.2 mm a radius of a tube of 40 mm."""
    rows = FAR_ROW + np.rint(per_radius_mm * FRAME.u() / READER_STEP_MM).astype(int)
    found = chosen(rows)
    assert found.aslant is aslant
    assert (RimName.FAR_END in found.rims) is not aslant


def test_a_few_columns_that_end_earlier_are_no_second_end() -> None:
    """Two of some 24 columns: a scratch, a shadow."""
    few = np.flatnonzero(np.abs(FRAME.u()) < 0.9)[:2]
    rows = np.full(READER_COLUMNS, FAR_ROW)
    rows[few] -= 80
    assert RimName.FAR_END in chosen(rows).rims


def test_a_marker_that_was_not_found_may_be_taken_for_the_lip() -> None:
    """Said where a seal was found; what lies against it may be the marker."""
    (note,) = [n for n in chosen(np.full(READER_COLUMNS, FAR_ROW)).notes if n.reason is Reason.NO_MARKER]
    assert note.quantity is LengthName.MARKER and note.detail.endswith(MAY_BE_SEAL_LIP_NOTE)
    no_seal = ending_at(np.full(READER_COLUMNS, FAR_ROW))
    no_seal[Part.SEAL], no_seal[Part.IN_FRONT, :SEAL_ROW] = 0.001, 0.994
    found = choose(part_map(no_seal), Layout.FORK, None)
    (note,) = [n for n in found.notes if n.reason is Reason.NO_MARKER]
    assert RimName.SEAL not in found.rims and not note.detail.endswith(MAY_BE_SEAL_LIP_NOTE)


@pytest.mark.parametrize(("bare_mm", "counts"), [(0.75, False), (20.0, True)])
def test_a_band_on_a_seal_whose_edge_is_hidden_is_no_marker(bare_mm: float, counts: bool) -> None:
    """A ring of the gland, with a sliver of what looks like shaft before it."""
    p = ending_at(np.full(READER_COLUMNS, FAR_ROW + 60))
    start = SEAL_ROW + int(bare_mm / READER_STEP_MM)
    p[Part.SHAFT, start : start + 12], p[Part.MARKER, start : start + 12] = 0.001, 0.994
    # The seal's edge is seen so unclearly that it is not set.
    gland = slice(SEAL_ROW - 8, SEAL_ROW)
    p[Part.SEAL, gland], p[Part.ELSE, gland] = 0.6, 0.39
    found = choose(part_map(p), Layout.FORK, None)
    assert RimName.SEAL not in found.rims
    assert (RimName.MARKER_NEAR in found.rims) is counts


def test_where_neither_end_is_found_that_is_the_cause_and_not_the_marker() -> None:
    """Nobody can record "pushed to the stop" of a stop that is not seen."""
    p = ending_at(np.full(READER_COLUMNS, FAR_ROW))
    p[Part.IN_FRONT], p[Part.SEAL], p[Part.FAR_END] = p[Part.SEAL] + p[Part.FAR_END], 0.001, 0.001
    first, *others = choose(part_map(p), Layout.FORK, None).notes
    assert first.reason is Reason.FAR_END_HIDDEN and first.detail.startswith("neither end")
    assert [note.reason for note in others] == [Reason.SEAL_HIDDEN, Reason.NO_MARKER]


def test_a_marker_that_is_not_seen_comes_first_where_the_far_end_is() -> None:
    p = ending_at(np.full(READER_COLUMNS, FAR_ROW))
    p[Part.IN_FRONT], p[Part.SEAL] = p[Part.SEAL].copy(), 0.001
    reasons = [note.reason for note in choose(part_map(p), Layout.FORK, None).notes]
    assert reasons == [Reason.NO_MARKER, Reason.SEAL_HIDDEN]

"""Lengths that two looks at one photo put elsewhere, and a marker that one network alone sees: made-up readings."""

from __future__ import annotations

import pytest

from vision.lengths.agreement import agree, marker_of_one, without_disagreement
from vision.names import LengthName
from vision.reading import Length, Note, Reading, Status
from vision.reasons import Reason

HIDDEN = Note(Reason.SEAL_HIDDEN, LengthName.EXPOSED)
NO_MARKER = Note(Reason.NO_MARKER, LengthName.MARKER)
ONE = Reading(
    Status.PARTIAL, (HIDDEN,), marker=Length(60.0, 0.8), remaining=Length(32.7, 1.1), marker_at_stop=False
)


@pytest.mark.parametrize("remaining_mm", [31.7, 33.7])
def test_lengths_within_the_larger_uncertainty_stay(remaining_mm: float) -> None:
    other = Reading(Status.PARTIAL, (HIDDEN,), remaining=Length(remaining_mm, 0.3))
    assert agree(ONE, other) and without_disagreement(ONE, other) is ONE


def test_a_length_that_lies_elsewhere_is_withheld_and_no_other() -> None:
    other = Reading(Status.PARTIAL, (HIDDEN,), remaining=Length(30.9, 0.6))
    assert not agree(ONE, other)
    found = without_disagreement(ONE, other)
    assert found.remaining is None and found.marker == ONE.marker and found.status is Status.PARTIAL
    assert found.reason is Reason.SEAL_HIDDEN, "the cause that was named first stays the first"
    assert found.notes[1] == Note(
        Reason.UNCERTAIN, LengthName.REMAINING, "two looks along the shaft put it 1.8 mm apart"
    )


def test_where_nothing_is_left_the_photo_is_refused() -> None:
    other = Reading(Status.PARTIAL, marker=Length(62.0, 0.5), remaining=Length(30.9, 0.6))
    assert without_disagreement(ONE, other).status is Status.REFUSED


def test_a_marker_where_no_band_was_seen_is_one_networks_word() -> None:
    none_seen = Reading(Status.PARTIAL, (NO_MARKER,), exposed=Length(77.5, 1.6))
    whole = Reading(
        Status.READ, exposed=Length(77.5, 1.6), marker=Length(9.3, 0.5), remaining=Length(68.2, 1.4)
    )
    assert marker_of_one(none_seen, whole)
    assert not marker_of_one(ONE, whole)
    assert not marker_of_one(none_seen, Reading(Status.PARTIAL, (NO_MARKER,), exposed=Length(77.6, 1.2)))

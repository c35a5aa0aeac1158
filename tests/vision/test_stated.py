"""Lengths as stated against lengths as read: what contradicts them is withheld, and they choose nothing by themselves.

Numbers are the trade's check values (domain.md, section 2): fork E0 205, S 120, so Emin 85; E 175, d 62, gn 113.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, part_map
from tests.helpers.special_photos import case, reading_of
from tests.vision.test_choose import FAR_ROW, SEAL_ROW, ending_at
from vision.geometry.views import READER_COLUMNS, READER_STEP_MM
from vision.names import LengthName, RimName
from vision.reading import Layout, Length, Reading, Status
from vision.reasons import Reason
from vision.rims.choose import Choice, choose
from vision.rims.evidence import Evidence
from vision.stated import Stated, StatedLengths, without_contradictions

FORK = StatedLengths(Stated(205.0, 0.25), Stated(120.0, 0.5), far_end="lower clamp")


def read_as(exposed: float | None, marker: float | None, remaining: float | None) -> Reading:
    lengths = [None if value is None else Length(value, 0.5) for value in (exposed, marker, remaining)]
    return Reading(
        Status.READ, exposed=lengths[0], marker=lengths[1], remaining=lengths[2], marker_at_stop=False
    )


@pytest.mark.parametrize(
    "lengths",
    [
        (175.0, 62.0, 113.0),
        (213.0, 62.0, 151.0),  # a tape that was laid carelessly
        (85.0, 0.0, 85.0),  # at the end of the stroke
        (205.0, 120.0, 85.0),
        (None, None, 113.0),
        (None, None, None),
    ],
)
def test_what_the_leg_can_show_stays(lengths: tuple[float | None, ...]) -> None:
    found = read_as(*lengths)
    assert without_contradictions(found, FORK) is found


@pytest.mark.parametrize(
    ("stated", "exposed", "words"),
    [
        (FORK, 231.0, "reads 231 mm, 26 mm more than the hanging length stated, 205 mm"),
        (FORK, 60.0, "reads 60 mm, 25 mm less than what is left at the end of the stroke, 85 mm"),
        (replace(FORK, hanging=True), 175.0, "stated to hang free, but the exposed length reads 175 mm, 30 mm less"),
        (StatedLengths(Stated(80.0, 0.25)), 96.0, "96 mm, 16 mm more than the hanging length stated, 80 mm"),
    ],
)  # fmt: skip
def test_an_exposed_length_that_cannot_be_withholds_all(
    stated: StatedLengths, exposed: float, words: str
) -> None:
    found = without_contradictions(read_as(exposed, 30.0, exposed - 30.0), stated)
    assert found.status is Status.REFUSED and found.marker_at_stop is None
    assert (found.exposed, found.marker, found.remaining) == (None, None, None)
    (note,) = found.notes
    assert note.reason is Reason.STATED_CONFLICT and note.quantity is None and words in note.detail


def test_a_marker_beyond_the_stroke_withholds_its_place_alone() -> None:
    """As if seal and clamp were exchanged: of 175 mm the marker stands 113 from the seal and 62 from the clamp."""
    found = without_contradictions(read_as(175.0, 113.0, 62.0), FORK)
    assert found.status is Status.PARTIAL and found.exposed == Length(175.0, 0.5)
    assert found.marker is None and found.remaining is None and found.marker_at_stop is None
    assert (
        "reads 62 mm, 23 mm less than what is left at the end of the stroke, 85 mm" in found.notes[0].detail
    )
    assert found.notes[0].detail.endswith("with seal and far end exchanged it would fit")
    slipped = without_contradictions(read_as(135.0, 65.0, 70.0), FORK)
    assert slipped.remaining is None and "exchanged" not in slipped.notes[0].detail
    no_end = without_contradictions(read_as(None, 140.0, None), FORK)
    assert no_end.status is Status.REFUSED and "more than the stroke stated, 120 mm" in no_end.notes[0].detail


def test_a_vague_statement_contradicts_less() -> None:
    vague = replace(FORK, extended=Stated(205.0, 10.0))
    assert without_contradictions(read_as(231.0, 62.0, 169.0), vague).exposed == Length(231.0, 0.5)


def test_nothing_stated_contradicts_nothing() -> None:
    for name in LengthName:
        assert StatedLengths(hanging=True).contradiction(name, 900.0, 0.1) is None


def two_ends(stated: StatedLengths | None) -> Choice:
    """Choose on a shaft that ends 27.5 mm behind its seal, and in its middle columns 25 mm later."""
    rows = np.where(np.abs(FRAME.u()) < 0.5, FAR_ROW + 100, FAR_ROW)
    p = ending_at(rows)
    # The later end is the clearer one, so that it is the one the picture prefers.
    outer = np.broadcast_to(np.abs(FRAME.u()) >= 0.5, (READER_COLUMNS,))
    p[:, FAR_ROW:, outer] *= 0.85
    return choose(part_map(p), Layout.FORK, None, evidence=Evidence(lengths=stated))


FIRST_MM = (FAR_ROW - SEAL_ROW) * READER_STEP_MM


@pytest.mark.parametrize(
    ("stated", "settled"),
    [
        (None, False),
        (StatedLengths(Stated(FIRST_MM + 25, 0.5), hanging=True), True),
        # The other end stated: it is not what the picture prefers, and a statement moves no rim.
        (StatedLengths(Stated(FIRST_MM, 0.5), hanging=True), False),
        # Without a state both are possible.
        (StatedLengths(Stated(FIRST_MM + 30, 0.5)), False),
    ],
)
def test_of_two_ends_the_one_that_cannot_be_is_no_rival(stated: StatedLengths | None, settled: bool) -> None:
    found = two_ends(stated)
    assert (RimName.FAR_END in found.rims) is settled
    if settled:
        px = found.unrefined[RimName.FAR_END].points_px
        s_mm, _ = FRAME.cylinder.unroll(FRAME.camera.rays(px))
        # On the tube's front, 380 of the axis' 400 mm from the camera.
        assert np.median(s_mm) == pytest.approx(0.95 * FRAME.s_mm(FAR_ROW + 100), abs=0.5)


def test_a_photo_with_its_own_lengths_stated_reads_the_same_and_with_anothers_not_at_all() -> None:
    """The plain photo's fork shows 120 mm (tests/vision/photos/plain.json)."""
    whole, plain = case("plain"), reading_of("plain")
    assert plain.exposed is not None
    shows = plain.exposed.value_mm
    for hanging in (False, True):
        own = StatedLengths(Stated(shows + 1.5, 0.5), Stated(shows - 15.0, 0.5), hanging)
        found = replace(whole, request=replace(whole.request, stated=own)).read()
        assert (found.exposed, found.marker, found.remaining) == (
            plain.exposed,
            plain.marker,
            plain.remaining,
        )
        other = StatedLengths(Stated(shows - 25.0, 0.5), hanging=hanging)
        found = replace(whole, request=replace(whole.request, stated=other)).read()
        assert found.status is Status.REFUSED and found.reason is Reason.STATED_CONFLICT

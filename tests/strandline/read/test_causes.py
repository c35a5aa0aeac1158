"""Which cause a person is shown where lengths were not read, and where on the photo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from strandline.read.causes import causes, shown
from strandline.read.sources import SOURCE_NAMES, how_to_halve
from tests.helpers.special_photos import case, reading_of
from tests.vision.test_reasons import MADE
from vision.lengths.budget import Source, budgets
from vision.names import LengthName
from vision.overlay.failed_places import failed_places
from vision.reading import Note, Reading, Status
from vision.reasons import Reason


def test_what_is_too_uncertain_names_its_largest_source_and_what_helps_there() -> None:
    """A diameter known to 3 mm: the budget's largest source, by the numbers that `--explain` shows."""
    found = MADE[Reason.UNCERTAIN]().read()
    assert found.joint is not None
    first = next(one for one in causes(found) if one.code == "uncertain")
    (budget,) = [one for one in budgets(found.joint) if one.quantity is first.quantity]
    source = budget.shares[0].source
    assert source in (Source.DIAMETER, Source.PRINT, Source.CARD)
    assert SOURCE_NAMES[source.value] in first.what and first.advice == how_to_halve(source, "exif")


def test_where_card_and_diameter_disagree_that_is_the_cause() -> None:
    """Printed at 0.95 (tests/vision/photos/printed-small.json), and the length that this leaves too uncertain."""
    first = next(one for one in causes(reading_of("printed-small")) if one.code == "uncertain")
    assert "since the card and the shaft's diameter disagree" in first.what
    assert first.advice == Reason.SCALE_CONFLICT.advice


def test_of_a_photo_that_was_not_read_one_cause_is_shown() -> None:
    notes = (Note(Reason.FAR_END_HIDDEN, LengthName.EXPOSED, "not found"), Note(Reason.NO_MARKER))
    messages = causes(Reading(Status.REFUSED, notes))
    assert [one.code for one in messages] == ["far_end_hidden", "no_marker"]
    assert shown(messages, refused=True) == [replace(messages[0], quantity=None)]
    assert shown(messages, refused=False) == messages


def places(reading: Reading) -> dict[str, int]:
    """Count the places by their words."""
    outline = reading.card_outline_px
    found = failed_places(reading.notes, reading.shaft_edges_px, outline, "lower clamp")
    words = [one.words for one in found]
    return {word: words.count(word) for word in words}


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("two-shafts", {"which shaft?": 1}),
        ("several-cards", {"one of several cards": 2}),
        ("hand-over-card", {"card covered": 1}),
        ("gaiter", {"lower clamp not seen": 1}),
    ],
)
def test_a_refusal_has_its_place_on_the_photo(name: str, expected: dict[str, int]) -> None:
    assert places(reading_of(name)) == expected


def test_a_place_turns_with_its_photo() -> None:
    """Of two cards the one that is not drawn: 90 degrees round a picture of w px, (x, y) comes to (y, w - 1 - x)."""
    upright, whole = reading_of("several-cards"), case("several-cards")
    turned = replace(whole, pixels=np.ascontiguousarray(np.rot90(whole.pixels))).read()
    ((x, y),) = [note.outlines_px[0].mean(axis=0) for note in upright.notes]
    ((u, v),) = [note.outlines_px[0].mean(axis=0) for note in turned.notes]
    assert (u, v) == pytest.approx((y, whole.pixels.shape[1] - 1 - x), abs=2.0)


def test_the_far_end_is_marked_where_the_shaft_ends_and_not_at_the_marker() -> None:
    """tests/vision/photos/gaiter.json: the tube is hidden from 30 mm on, the marker stands 14 mm from the seal."""
    found = reading_of("gaiter")
    (place,) = failed_places(found.notes, found.shaft_edges_px, found.card_outline_px, "lower clamp")
    marker = next(rim for rim in found.rims if rim.name == "marker").curve_px.mean(axis=0)
    seal = next(rim for rim in found.rims if rim.name == "seal").curve_px.mean(axis=0)
    beyond = np.linalg.norm(place.centre_px - seal) / np.linalg.norm(marker - seal)
    assert beyond == pytest.approx(30 / 14, rel=0.15)

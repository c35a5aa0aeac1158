"""The marker's colour as evidence: what cannot be it is not read as it, and anything else is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.made_frame import bands, part_map
from tests.helpers.special_photos import case, reading_of
from vision.geometry.views import READER_COLUMNS, READER_ROWS
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout, Reading, Status
from vision.reasons import Reason
from vision.rims.band_colour import BandColour
from vision.rims.choose import Choice, choose
from vision.rims.evidence import Evidence

S, B, M, F = Part.SEAL, Part.SHAFT, Part.MARKER, Part.FAR_END
ORANGE, BLACK, BLUE, GREY_SHAFT = (214, 120, 40), (20, 20, 22), (30, 90, 180), (170, 172, 175)


def with_color(name: str, color: str | None) -> Reading:
    whole = case(name)
    return replace(whole, request=replace(whole.request, marker_color=color)).read()


@pytest.mark.parametrize("color", ["orange", "brown", "bright red"])
def test_a_band_that_may_have_the_colour_is_read_as_without_it(color: str) -> None:
    """An orange tie (tests/vision/photos/plain.json): red fades to orange."""
    assert with_color("plain", color).marker == reading_of("plain").marker


@pytest.mark.parametrize(("name", "color"), [("plain", "black"), ("plain", "blue"), ("o-ring", "orange")])
def test_a_band_that_cannot_have_it_is_not_the_marker(name: str, color: str) -> None:
    found = with_color(name, color)
    assert reading_of(name).status is Status.READ
    assert found.marker is None and found.remaining is None and found.exposed is not None
    assert found.reason is Reason.MARKER_UNCLEAR and color in found.notes[0].detail


def two_bands(first: tuple[int, int, int], second: tuple[int, int, int], color: str | None) -> Choice:
    """Choose among two bands alike to the network, 50 mm apart, of these colours."""
    parts = part_map(bands((S, 200), (B, 400), (M, 412), (B, 600), (M, 612), (B, 800), (F, READER_ROWS)))
    view = np.full((READER_ROWS, READER_COLUMNS, 3), GREY_SHAFT, np.uint8)
    view[400:412], view[600:612] = first, second
    return choose(parts, Layout.FORK, None, evidence=Evidence(BandColour(view, color) if color else None))


@pytest.mark.parametrize(
    ("color", "row"), [(None, None), ("purple", None), ("orange", 600), ("black", 400), ("blue", None)]
)
def test_of_two_bands_the_one_of_the_colour_is_taken(color: str | None, row: int | None) -> None:
    found = two_bands(BLACK, ORANGE, color)
    near = found.unrefined.get(RimName.MARKER_NEAR)
    if row is None:
        assert near is None and found.notes[0].reason is Reason.MARKER_UNCLEAR
    else:
        assert near is not None
        other = two_bands(ORANGE, BLACK, color).unrefined[RimName.MARKER_NEAR]
        assert (near.points_px - other.points_px).any(), "the other one where the colours are exchanged"


def test_two_bands_of_the_colour_stay_two() -> None:
    assert two_bands(BLUE, BLUE, "blue").notes[0].reason is Reason.MARKER_UNCLEAR


def test_a_band_in_the_dark_says_nothing() -> None:
    parts = part_map(bands((S, 200), (B, 400), (M, 412), (B, 800), (F, READER_ROWS)))
    dark = np.full((READER_ROWS, READER_COLUMNS, 3), 25, np.uint8)
    dark[400:412] = (12, 9, 6)
    assert (
        RimName.MARKER_NEAR
        in choose(parts, Layout.FORK, None, evidence=Evidence(BandColour(dark, "blue"))).rims
    )

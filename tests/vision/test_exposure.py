"""Shafts too dark or too bright to show anything, on made-up views."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import bands, part_map
from vision.geometry.views import READER_COLUMNS, READER_ROWS
from vision.networks.classes import Part
from vision.shaft.scale_check import exposure_fault


def lit(low: float, high: float, share_low: float) -> str | None:
    """Judge the exposure of a shaft of which a share has one code value, the rest another."""
    classes = bands((Part.ELSE, 300), (Part.SHAFT, 700), (Part.ELSE, READER_ROWS))
    view = np.full((READER_ROWS, READER_COLUMNS, 3), 120, np.uint8)  # what lies around does not count
    view[300:700] = round(high)
    view[300 : 300 + round(400 * share_low)] = round(low)
    return exposure_fault(view, part_map(classes))


def test_a_black_shaft_shows_nothing() -> None:
    assert lit(0, 1, 0.5) == "the shaft is black in the photo"


def test_a_dark_shaft_with_light_on_a_part_of_it_is_accepted() -> None:
    assert lit(0, 60, 0.85) is None
    assert lit(5, 9, 0.5) is None


def test_a_burnt_out_shaft_shows_nothing() -> None:
    assert lit(253, 255, 0.5) == "the shaft is overexposed in the photo"
    assert lit(200, 255, 0.15) is None


@pytest.mark.parametrize("part", [Part.ELSE, Part.IN_FRONT])
def test_where_no_shaft_is_seen_nothing_is_said_of_its_light(part: Part) -> None:
    classes = bands((part, READER_ROWS))
    assert exposure_fault(np.zeros((READER_ROWS, READER_COLUMNS, 3), np.uint8), part_map(classes)) is None


def test_a_shaft_less_surely_seen_counts_too() -> None:
    """Black on black is seen at a probability of one half and a little more, not at four fifths."""
    classes = bands((Part.ELSE, 300), (Part.SHAFT, 700), (Part.ELSE, READER_ROWS))
    rows = slice(300, 700)
    classes[Part.SHAFT, rows], classes[Part.ELSE, rows] = 0.6, 0.39
    black = np.zeros((READER_ROWS, READER_COLUMNS, 3), np.uint8)
    assert exposure_fault(black, part_map(classes)) == "the shaft is black in the photo"

"""An end that one network of three alone has put on the shaft: made-up views; what is expected follows from them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.helpers.made_frame import FRAME, bands, part_map
from tests.vision.test_third_network import OPEN, WHOLE
from vision import read
from vision.geometry.views import READER_ROWS
from vision.names import RimName
from vision.networks.classes import Part
from vision.reading import Layout, Reading
from vision.rims.candidates import find_borders
from vision.rims.choose import Choice
from vision.rims.goes_on import GOES_ON, shaft_goes_on
from vision.rims.points import far_points, seal_points
from vision.rims.second_opinion import SecondOpinion

SEAL_ROW, FAR_ROW, FOOT_ENDS = 200, 700, 900
ENDS_HERE = bands((Part.SEAL, SEAL_ROW), (Part.SHAFT, FAR_ROW), (Part.FAR_END, READER_ROWS))
GOES_FURTHER = bands((Part.SEAL, SEAL_ROW), (Part.SHAFT, FOOT_ENDS), (Part.FAR_END, READER_ROWS))
NO_FAR_END = bands((Part.SEAL, SEAL_ROW), (Part.SHAFT, FAR_ROW), (Part.ELSE, READER_ROWS))
SEAL_ELSEWHERE = bands((Part.SEAL, SEAL_ROW - 80), (Part.SHAFT, FAR_ROW), (Part.FAR_END, READER_ROWS))


def ends_of(classes: np.ndarray) -> dict[RimName, Any]:
    parts = part_map(classes)
    found = find_borders(parts)
    seal = seal_points(found.rims((Part.SEAL,), (Part.SHAFT,))[0], parts)
    far = far_points(found.rims((Part.SHAFT,), (Part.FAR_END,))[0], parts, Layout.UPSIDE_DOWN_FORK)
    return {RimName.SEAL: seal, RimName.FAR_END: far}


@pytest.mark.parametrize(
    ("networks", "names"),
    [
        ((ENDS_HERE, ENDS_HERE, ENDS_HERE), ()),
        ((GOES_FURTHER, ENDS_HERE, ENDS_HERE), ()),
        ((GOES_FURTHER, GOES_FURTHER, ENDS_HERE), (RimName.FAR_END,)),
        # What ends the shaft may be anything to the others.
        ((NO_FAR_END, NO_FAR_END, ENDS_HERE), ()),
        ((SEAL_ELSEWHERE, SEAL_ELSEWHERE, ENDS_HERE), (RimName.SEAL,)),
    ],
)
def test_two_networks_that_see_bare_shaft_outweigh_the_one_that_sees_its_end(
    networks: tuple[np.ndarray, ...], names: tuple[RimName, ...]
) -> None:
    assert shaft_goes_on(ends_of(ENDS_HERE), networks, FRAME) == names


@pytest.mark.parametrize(("share", "goes_on"), [(GOES_ON - 0.05, False), (GOES_ON + 0.05, True)])
def test_it_goes_on_where_that_is_likelier_than_all_else(share: float, goes_on: bool) -> None:
    mixed = share * GOES_FURTHER + (1 - share) * ENDS_HERE
    assert bool(shaft_goes_on(ends_of(ENDS_HERE), (mixed, mixed, ENDS_HERE), FRAME)) is goes_on


@pytest.mark.parametrize(("others", "believed"), [(ENDS_HERE, WHOLE), (GOES_FURTHER, OPEN)])
def test_other_networks_are_not_believed_against_the_first_two(
    monkeypatch: pytest.MonkeyPatch, others: np.ndarray, believed: Reading
) -> None:
    """Its reading, which leaves fewer lengths open, counts only where an end is one to another network, too."""
    request: Any = SimpleNamespace(declared=SimpleNamespace(diameter_mm=40.0))
    seen: Any = type("Seen", (), {"classes": others, "frame": FRAME})()
    view = np.zeros((READER_ROWS, 64, 3), np.uint8)

    def measured(*asked: Any) -> tuple[Reading, read.Trace]:
        choice = Choice(unrefined=ends_of(ENDS_HERE))
        return WHOLE, read.Trace(seen, choice, second=asked[-1])

    def alone(one: SecondOpinion) -> np.ndarray:
        return others if one.network == "part_segmentation_b" else ENDS_HERE

    monkeypatch.setattr(read, "_measured", measured)
    monkeypatch.setattr(read, "by_network", lambda seen, _diameter_mm, _network: seen)
    monkeypatch.setattr(SecondOpinion, "alone", property(alone))
    first = read.Trace(seen, second=SecondOpinion(view, FRAME, 40.0))
    assert read._with_other_networks(view, OPEN, request, OPEN, first)[0] == believed

"""Which end of a fork is lower, of made-up shafts whose direction in the picture is known, and what it weighs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.special_photos import case, truth
from vision.geometry.cylinder import Cylinder
from vision.names import LengthName
from vision.reading import Layout
from vision.rims.orientation import Ends, Looks, laid_right
from vision.rims.standing import STANDING, standing_odds

FOR = STANDING / (1 - STANDING)


def shaft(x: float, y: float, z: float = 0.0) -> Cylinder:
    """Make a shaft whose far end lies in this direction from its seal, half a metre before the camera."""
    axis = np.array([x, y, z]) / np.linalg.norm([x, y, z])
    return Cylinder(np.array([40.0, -30.0, 500.0]), axis, 20.0)


@pytest.mark.parametrize(
    "layout, cylinder, turns, odds",
    [
        # A fork's clamp is above its seal, an upside-down fork's foot below.
        (Layout.FORK, shaft(0.4, -0.9), 0, FOR),
        (Layout.FORK, shaft(0.4, 0.9), 0, 1 / FOR),
        (Layout.UPSIDE_DOWN_FORK, shaft(-0.4, 0.9, 0.3), 0, FOR),
        (Layout.UPSIDE_DOWN_FORK, shaft(-0.4, -0.9, 0.3), 0, 1 / FOR),
        # Stored on its side or upside down: what the picture shows once it is turned clockwise.
        (Layout.FORK, shaft(-1.0, 0.0), 1, FOR),
        (Layout.FORK, shaft(-1.0, 0.0), 3, 1 / FOR),
        (Layout.FORK, shaft(0.4, 0.9), 2, FOR),
        # A picture turned by a quarter, and a shock, whose rod points either way.
        (Layout.FORK, shaft(-1.0, 0.2), 0, 1.0),
        (Layout.SHOCK, shaft(0.0, 1.0), 0, 1.0),
    ],
)
def test_forks_stand(layout: Layout, cylinder: Cylinder, turns: int, odds: float) -> None:
    assert standing_odds(layout, cylinder, turns) == pytest.approx(odds)


def test_it_is_one_piece_of_evidence() -> None:
    """It speaks against the arrow only, and yields to the looks of both ends."""
    weak, strong = Ends(None, Looks(0.6, 0.3)), Ends(Looks(1.0, 0.0), Looks(0.0, 1.0))
    nothing = Ends(None, None)
    assert laid_right(nothing, weak, FOR) == laid_right(nothing, weak, 1.0) < 0.95
    assert laid_right(nothing, nothing, 1 / FOR) == pytest.approx(19 / (19 + FOR))
    assert laid_right(strong, strong, 1 / FOR) > 0.98


def test_a_photo_upside_down_is_read_by_its_looks() -> None:
    """A photo whose orientation is stated wrongly: the looks of both ends are asked, and confirm the arrow."""
    right = case("plain")
    asked = replace(right.request, quarter_turns=2)
    for quantity in LengthName:
        one, other = (getattr(c.read(), quantity.value) for c in (right, replace(right, request=asked)))
        assert one is not None and other is not None
        assert other.value_mm == pytest.approx(one.value_mm, abs=0.3)


def test_a_card_backwards_beside_a_fork_that_stands() -> None:
    """Looks and stand agree against the arrow: all three lengths are read, to the scene's."""
    name = "card-backwards"
    backwards = case(name)
    upright = replace(backwards, request=replace(backwards.request, quarter_turns=2)).read()
    for quantity in LengthName:
        length = getattr(upright, quantity.value)
        assert length is not None
        assert abs(length.value_mm - truth(name)[f"{quantity.value}_mm"]) < length.u95_mm

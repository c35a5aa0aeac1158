"""Which end is the seal: looks worked out by hand, and made-up classes of both networks."""

from __future__ import annotations

import numpy as np
import pytest

from tests.helpers.made_frame import bands, part_map
from vision.networks.classes import Part
from vision.networks.run import FIRST_PARTS
from vision.rims.orientation import (
    LAID_RIGHT,
    Ends,
    Looks,
    against_arrow,
    bare_rows,
    laid_right,
    looks_of_ends,
    named_by_the_arrow,
)

SEAL, FAR, NOTHING = Looks(1.0, 0.0), Looks(0.0, 1.0), Ends(None, None)


def test_a_network_that_does_not_follow_the_arrow_says_more_of_a_card_laid_backwards() -> None:
    """Both ends as a card laid right shows them, by hand: (0.93 / 0.24) (0.84 / 0.20), of the first (0.99 / 0.76)
    (0.99 / 0.60); and the other way round."""
    for looks, first, fourth in (
        (Ends(SEAL, FAR), (0.99 / 0.76) * (0.99 / 0.60), (0.93 / 0.24) * (0.84 / 0.20)),
        (Ends(FAR, SEAL), (0.01 / 0.24) * (0.01 / 0.40), (0.07 / 0.76) * (0.16 / 0.80)),
    ):
        for network, ratio in zip(FIRST_PARTS, (first, fourth), strict=True):
            odds = LAID_RIGHT / (1 - LAID_RIGHT) * ratio
            assert laid_right(looks, NOTHING, by=network) == pytest.approx(odds / (1 + odds))


def test_without_looks_the_prior_remains() -> None:
    assert laid_right(NOTHING, NOTHING) == pytest.approx(LAID_RIGHT)


def test_odds_are_multiplied() -> None:
    """A far end called a far end by the network without the side: 0.925 of far ends, 0.26 of seals."""
    odds = LAID_RIGHT / (1 - LAID_RIGHT) * 0.925 / 0.26
    assert laid_right(NOTHING, Ends(None, FAR)) == pytest.approx(odds / (1 + odds))


@pytest.mark.parametrize(
    "sided, sideless, as_laid",
    [
        # Both networks, both ends.
        (Ends(SEAL, FAR), Ends(SEAL, FAR), True),
        # A turned gland that looks like a clamp, a cast foot that looks like a seal: the arrow decides.
        (Ends(SEAL, FAR), Ends(FAR, FAR), True),
        (Ends(SEAL, FAR), Ends(SEAL, SEAL), True),
        # Looks that lean against the arrow.
        (Ends(SEAL, FAR), Ends(FAR, Looks(0.4, 0.5)), False),
        # The side's word against both looks.
        (Ends(SEAL, FAR), Ends(FAR, SEAL), False),
    ],
)
def test_the_arrow_against_the_looks(sided: Ends, sideless: Ends, as_laid: bool) -> None:
    assert (laid_right(sided, sideless) > LAID_RIGHT) == as_laid


def test_a_third_networks_looks_are_odds_of_their_own() -> None:
    """A seal called a seal: 0.90 of seals, 0.13 of far ends."""
    odds = LAID_RIGHT / (1 - LAID_RIGHT) * 0.90 / 0.13
    assert laid_right(NOTHING, NOTHING, 1.0, Ends(SEAL, None)) == pytest.approx(odds / (1 + odds))


def test_both_networks_without_the_card_outweigh_the_side_and_the_way_a_fork_stands() -> None:
    """As of a fork turned on its head beside a card laid backwards, blotches over both."""
    sided, second, third = (
        Ends(Looks(0.92, 0.0), Looks(0.0, 0.59)),
        Ends(FAR, Looks(0.2, 0.71)),
        Ends(FAR, SEAL),
    )
    assert against_arrow(second) and not against_arrow(Ends(SEAL, FAR))
    assert laid_right(sided, second, 9.0) == laid_right(sided, second) > 0.94
    assert laid_right(sided, second, 9.0, third) < 0.5


def test_all_looks_of_a_card_laid_backwards() -> None:
    assert laid_right(Ends(FAR, SEAL), Ends(FAR, SEAL)) < 0.01


def test_the_bare_shaft_reaches_past_the_marker_and_what_hides_it() -> None:
    """Rows 300 to 800, with a marker in the middle and a finger over 80 rows; a coil beyond does not prolong it."""
    p = bands(
        (Part.SEAL, 300), (Part.SHAFT, 400), (Part.IN_FRONT, 480), (Part.SHAFT, 600), (Part.MARKER, 614),
        (Part.SHAFT, 800), (Part.FAR_END, 900), (Part.ELSE, 1024),
    )  # fmt: skip
    rows = bare_rows(part_map(p))
    assert rows == (300, 800)


def test_ends_are_looked_at_and_named() -> None:
    """What a network takes for a clamp at the arrow's end is called a seal, and nothing else is changed."""
    p = bands((Part.FAR_END, 300), (Part.SHAFT, 800), (Part.FAR_END, 1024))
    ends = looks_of_ends(part_map(p))
    for end in (ends.towards, ends.away):
        assert end is not None and end.far_end > 0.99 and end.seal < 0.01
    named = named_by_the_arrow(part_map(p))
    np.testing.assert_allclose(named.sum(axis=0), p.sum(axis=0), rtol=1e-6)
    assert (named[Part.SEAL, :300] > 0.99).all() and not named[Part.FAR_END, :300].any()
    np.testing.assert_array_equal(named[Part.SHAFT], p[Part.SHAFT])
    assert (named[Part.FAR_END, 800:] > 0.99).all()


def test_a_view_without_a_shaft_tells_nothing() -> None:
    empty = part_map(bands((Part.ELSE, 1024)))
    assert looks_of_ends(empty) == NOTHING
    np.testing.assert_array_equal(named_by_the_arrow(empty), empty.probabilities)

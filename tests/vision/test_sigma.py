"""The sigma of refined rims: by hand, and against a mixture drawn at random."""

from __future__ import annotations

from dataclasses import replace
from math import exp, sqrt

import numpy as np
import pytest

from vision.lengths.lengths import U95_LIMIT_MM
from vision.rims.refine import RimKind
from vision.rims.sigma import (
    ANOTHER_EDGE,
    ANOTHER_EDGE_MM,
    DISAGREEMENT_SHARE,
    REFINED_SIGMA,
    SEGMENTATION_SHARE,
    AnotherEdge,
    RefinedLook,
    refined_sigma_mm,
)

ENDS = [RimKind.SEAL, RimKind.FAR_END]
# Twice the standard deviation of a normal distribution holds so much of it (JCGM 100:2008, table G.1).
HELD = 0.9545


def look(kind: RimKind, segmented_mm: float, refined_mm: float, apart_mm: float = 0.0) -> RefinedLook:
    return RefinedLook(kind, 0.0, 40, refined_mm, segmented_mm, apart_mm)


def usual_mm(one: RefinedLook) -> float:
    """Add the squares of a rim that is the one meant, seen square-on; by hand."""
    model = REFINED_SIGMA[one.kind]
    vague_mm = SEGMENTATION_SHARE * max(one.segmented_mm - 1.0, 0.0)
    own_mm, apart_mm = model.transition_factor * one.refined_mm, DISAGREEMENT_SHARE[one.kind] * one.apart_mm
    return sqrt(model.floor_mm**2 + own_mm**2 + vague_mm**2 + apart_mm**2)


@pytest.mark.parametrize("kind", ENDS)
def test_of_a_sharp_rim_the_squares_add_up(kind: RimKind) -> None:
    one = look(kind, 0.4, 0.3, 0.2)
    for segmented_mm in (0.4, 1.0):
        assert refined_sigma_mm(replace(one, segmented_mm=segmented_mm)) == pytest.approx(
            usual_mm(one), rel=0.05
        )


@pytest.mark.parametrize(("kind", "of_slant_mm"), [(RimKind.SEAL, 0.32), (RimKind.FAR_END, 0.336)])
def test_an_end_seen_at_a_slant_is_known_less_well(kind: RimKind, of_slant_mm: float) -> None:
    """At a tangent of 0.4 the squares of 5.0 x 0.4**3 and 2.1 x 0.4**2 mm are added, from either side of it."""
    square_on = look(kind, 0.4, 0.3, 0.2)
    for slant in (0.4, -0.4):
        assert refined_sigma_mm(replace(square_on, slant=slant)) == pytest.approx(
            sqrt(usual_mm(square_on) ** 2 + of_slant_mm**2), rel=0.03
        )


def test_the_share_of_other_edges_is_a_logistic_one() -> None:
    assert AnotherEdge(-3.0, 2.0, 1.0).share(3.0, 1.0) == pytest.approx(1 / (1 + exp(3.0)))
    # Twice 3 mm and twice 1 mm: -3 + 2 + 1 = 0.
    assert AnotherEdge(-3.0, 2.0, 1.0).share(6.0, 2.0) == pytest.approx(0.5)


@pytest.mark.parametrize("kind", ENDS)
@pytest.mark.parametrize("widths_mm", [(0.5, 0.3), (2.4, 0.8), (3.2, 1.1), (4.4, 1.6)])
def test_two_sigma_hold_as_much_of_the_mixture_as_of_a_normal_distribution(
    kind: RimKind, widths_mm: tuple[float, float]
) -> None:
    """A million rims, of which the share drawn is another edge."""
    one = look(kind, *widths_mm)
    rng = np.random.default_rng(18)
    other = rng.random(1_000_000) < ANOTHER_EDGE[kind].share(*widths_mm)
    off_mm = rng.normal(0, usual_mm(one), len(other)) + other * rng.normal(0, ANOTHER_EDGE_MM, len(other))
    assert np.mean(np.abs(off_mm) < 2 * refined_sigma_mm(one)) == pytest.approx(HELD, abs=0.002)


def test_ends_seen_within_4_mm_by_all_networks_give_no_length() -> None:
    """Seals of real photographs that were another edge, by 3 to 75 mm: w 3.84 to 4.52, w_r 1.11 to 2.31 mm."""
    for widths_mm in ((3.84, 2.31), (4.15, 1.50), (4.29, 1.18), (4.34, 1.36), (4.52, 1.11)):
        assert 2 * refined_sigma_mm(look(RimKind.SEAL, *widths_mm)) > U95_LIMIT_MM
    # Where they agree to half a millimetre and see it within 2 mm there is one.
    for kind in ENDS:
        assert 2 * refined_sigma_mm(look(kind, 2.0, 0.8, 0.5)) < 0.5 * U95_LIMIT_MM


@pytest.mark.parametrize("kind", ENDS)
def test_wider_transitions_never_make_it_smaller(kind: RimKind) -> None:
    sds = [
        [refined_sigma_mm(look(kind, segmented_mm, refined_mm)) for segmented_mm in np.arange(0.2, 6.0, 0.2)]
        for refined_mm in np.arange(0.1, 3.0, 0.2)
    ]
    assert np.all(np.diff(sds, axis=0) > 0) and np.all(np.diff(sds, axis=1) > 0)

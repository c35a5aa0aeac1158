"""A view along the shaft that was made with a false focal length is made anew: the truth is the renderer's."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from bench.photo12 import sample_named
from tests.helpers.special_photos import sample_case
from vision.adjustment.parameters import LOGF
from vision.adjustment.solve import Solution
from vision.read import Trace, read_traced
from vision.reading import Reading
from vision.shaft_view import SAME_VIEW_FOCAL, ShaftView, seen_through_own_lens

SAMPLE, FALSE = "fork-black-tube-black-tie.jpg", 1.55


@cache
def traced(factor: float) -> tuple[Reading, Trace]:
    """Read the sample with so many times its focal length stated."""
    case = sample_case(sample_named(SAMPLE))
    return read_traced(case.pixels, replace(case.request, focal_px=factor * case.request.focal_px))


def seen(factor: float = 1.0) -> tuple[ShaftView, Solution]:
    trace = traced(factor)[1]
    assert trace.seen is not None and trace.final is not None
    return trace.seen, trace.final


def again(view: ShaftView, found: Solution) -> ShaftView | None:
    case = sample_case(sample_named(SAMPLE))
    return seen_through_own_lens(case.pixels, case.request, view, found)


def moved(found: Solution, by: float, sd: float) -> Solution:
    """Change the logarithm of a solution's focal length and its standard uncertainty."""
    covariance = found.covariance.copy()
    covariance[LOGF, LOGF] = sd**2
    camera = found.camera.with_lens(found.camera.focal_px * float(np.exp(by)), found.camera.k1)
    return replace(found, camera=camera, covariance=covariance)


def test_rims_are_seen_through_the_lens_that_took_the_photo() -> None:
    view, _ = seen(FALSE)
    true_px = sample_case(sample_named(SAMPLE)).request.focal_px
    assert abs(np.log(view.frame.camera.focal_px / true_px)) < 0.25 * np.log(FALSE)


def test_so_seen_they_are_as_clear_as_with_the_true_lens() -> None:
    """In the view made with the false one the far end is vague: the remaining length's u95 is twice as large."""
    stated_rightly, stated_falsely = traced(1.0)[0], traced(FALSE)[0]
    true_mm = sample_named(SAMPLE).rendered["remaining_mm"]
    for found in (stated_rightly, stated_falsely):
        assert found.remaining is not None
        assert abs(found.remaining.value_mm - true_mm) < found.remaining.u95_mm < 1.2


def test_the_same_lens_needs_no_other_view() -> None:
    view, found = seen()
    assert again(view, found) is None
    assert again(view, moved(found, 0.9 * SAME_VIEW_FOCAL, 0.001)) is None


@pytest.mark.parametrize("by", [-0.3, 0.3])
def test_another_lens_asks_for_one_where_the_photo_shows_it(by: float) -> None:
    view, found = seen()
    anew = again(view, moved(found, by, 0.1))
    assert anew is not None
    assert anew.frame.camera.focal_px == pytest.approx(found.camera.focal_px * np.exp(by))
    assert anew.frame.s0_mm == view.frame.s0_mm and anew.fit is view.fit
    # Vaguer than what it moved by: card and diameter disagree, which is not the lens's doing.
    assert again(view, moved(found, by, 0.4)) is None

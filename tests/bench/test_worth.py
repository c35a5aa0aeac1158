"""The table of what each part buys: what is taken away is really away, and edges are placed as light falls."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from bench.worth import WAYS, Known, at_half_step, photos, table, worth
from calibration.light import linear_table
from tests.helpers.made_observations import made, true_mm
from vision.names import LengthName


def encoded(light: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1 (sRGB): linear light to code values."""
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("blur_px", [0.7, 1.2, 2.0])
def test_an_edge_lies_where_the_light_is_half(blur_px: float, turned: bool) -> None:
    """In stored values half of white is 21 % of its light: the edge moves to the dark side by so much of the blur."""
    true_px = 40.3
    row = encoded(ndtr((np.arange(80) - true_px) / blur_px))
    picture = np.rint(np.tile(row, (60, 1))).astype(np.float32)
    points = np.c_[np.full(30, 40.0), np.linspace(15, 45, 30)]
    if turned:
        picture, points = picture.T.copy(), points[:, ::-1].copy()
    axis = 1 if turned else 0
    reach = 3 * blur_px + 2
    linear = at_half_step(picture, points, reach, linear_table())
    # Of a blur of 0.7 px, a straight line between two pixels cuts half the step 0.03 px beside the true place.
    assert linear[:, axis] == pytest.approx(true_px, abs=0.04)
    stored = at_half_step(picture, points, reach, np.arange(256.0))
    half = ((0.5 + 0.055) / 1.055) ** 2.4
    assert stored[:, axis] - true_px == pytest.approx(blur_px * ndtri(half), abs=0.12)
    assert stored[:, 1 - axis] == pytest.approx(points[:, 1 - axis])


def test_where_there_is_no_step_nothing_moves() -> None:
    points = np.c_[np.full(9, 20.0), np.linspace(10, 30, 9)]
    flat = np.full((40, 40), 90.0, np.float32)
    assert np.array_equal(at_half_step(flat, points, 4.0, linear_table()), points)


def made_up(diameter_mm: float) -> list[Known]:
    """Make up photos in which every error has its declared distribution; a uniform picture leaves edges in place."""
    rng = np.random.default_rng(5)
    true = {name.field: true_mm(name) for name in LengthName}
    out = []
    for _ in range(24):
        joint = made(rng, diameter_mm=diameter_mm).reading().joint
        assert joint is not None
        rims = joint.observations.rims
        out.append(Known("made", np.zeros((2048, 1536, 3), np.uint8), joint, rims, true))
    return out


@pytest.fixture(scope="module")
def known() -> list[Known]:
    """Make readings of a thin rod: its diameter alone gives the scale worse than the card does."""
    return made_up(12.0)


def test_what_is_assumed_exact_makes_u95_smaller() -> None:
    """For a fork tube: for a thin rod the lens has hardly any effect."""
    whole, *_ = WAYS
    tube = made_up(41.0)
    for bold in (
        "both, lens assumed exact",
        "both, without rim refinement, marker assumed to have no thickness",
    ):
        assert worth(bold, tube).u95_mm < worth(whole, tube).u95_mm


def test_less_prior_knowledge_makes_u95_larger(known: list[Known]) -> None:
    rows = {way: worth(way, known) for way in WAYS if "half the step" not in way}
    whole, *_ = rows.values()
    assert whole.lengths == 3 * len(known) and whole.inside > 0.85
    for alone in ("card alone, level to 3 mm or so", "diameter alone"):
        assert rows[alone].u95_mm > 1.02 * whole.u95_mm and rows[alone].inside > 0.85
    # Assumed exactly level, its u95 is too small: 3 mm of depth are drawn.
    level = rows["card alone, assumed exactly level"]
    assert level.u95_mm < 0.7 * rows["card alone, level to 3 mm or so"].u95_mm and level.inside < 0.8
    assert rows["both, without rim refinement, marker assumed to have no thickness"].u95_mm < whole.u95_mm
    assert "| --- |" in table(list(rows.values()), len(known))


def test_a_wrong_truth_shows(known: list[Known]) -> None:
    way = next(iter(WAYS))
    off = [replace(one, true_mm={k: v + 5.0 for k, v in one.true_mm.items()}) for one in known]
    found = worth(way, off)
    assert found.median_mm == pytest.approx(5.0, abs=0.5) and found.inside == 0.0


def test_every_rendered_photo_is_among_them() -> None:
    names = [path.name for path, _, _ in photos()]
    here = Path(__file__).parents[1] / "vision" / "photos"
    assert {path.name for path in here.glob("*.jpg")} <= set(names) and len(names) == len(set(names))
    assert all(path.exists() for path, _, _ in photos())

"""Where a shaft's pattern ends, on views made row by row: what is asked for is what was put there."""

from __future__ import annotations

import numpy as np
import pytest

from vision.rims import RimCandidate
from vision.shaft_pattern import MOST_MOVED_MM, SHARE, pattern_end_mm, with_pattern
from vision.views import READER_COLUMNS, READER_STEP_MM, reader_u

ROWS = 400
U = reader_u(np.arange(READER_COLUMNS))
USED = np.flatnonzero(np.abs(U) < 0.9)
END_ROW = 200.0


def streaked(rng: np.random.Generator, noise: float = 1.0) -> np.ndarray:
    """A polished shaft's streaks before row `END_ROW` + 0.5, an even grey seal up to it; blurred over two rows."""
    streaks = rng.uniform(20, 220, (READER_COLUMNS, 3))
    view = np.repeat(streaks[None], ROWS, axis=0)
    view[: int(END_ROW)] = 90.0
    view[int(END_ROW)] = 0.5 * (streaks + 90.0)
    return np.clip(np.rint(view + rng.normal(0, noise, view.shape)), 0, 255).astype(np.uint8)


def edge(row: float, uneven_rows: float = 0.0, seed: int = 1) -> RimCandidate:
    rows = row + uneven_rows * np.random.default_rng(seed).standard_normal(len(USED))
    return RimCandidate(rows, U[USED], 0.0, 1.0, 1.0, 0.5)


@pytest.mark.parametrize("off_rows", [-2.0, -0.7, 0.0, 1.3, 2.0])
def test_the_end_is_found_wherever_the_network_put_it(off_rows: float) -> None:
    view = streaked(np.random.default_rng(3))
    end_mm = pattern_end_mm(edge(END_ROW + off_rows, uneven_rows=0.3), view)
    assert end_mm == pytest.approx(-off_rows * READER_STEP_MM, abs=0.15)


def test_the_edge_moves_by_its_share() -> None:
    view, seal = streaked(np.random.default_rng(4)), edge(END_ROW - 1)
    end_mm = pattern_end_mm(seal, view)
    assert end_mm is not None
    moved, apart_mm = with_pattern(seal, view)
    assert apart_mm == pytest.approx(abs(end_mm))
    assert np.allclose(moved.rows - seal.rows, SHARE * end_mm / READER_STEP_MM)
    assert moved.s_mm - seal.s_mm == pytest.approx(SHARE * end_mm)


@pytest.mark.parametrize("off_rows", [-2.5, 2.5])
def test_a_thick_lips_picture_in_the_shaft_moves_the_edge_only_so_far(off_rows: float) -> None:
    view, seal = streaked(np.random.default_rng(4)), edge(END_ROW + off_rows)
    end_mm = pattern_end_mm(seal, view)
    assert end_mm is not None and SHARE * abs(end_mm) > MOST_MOVED_MM
    moved, apart_mm = with_pattern(seal, view)
    assert moved.s_mm - seal.s_mm == pytest.approx(-np.sign(off_rows) * MOST_MOVED_MM)
    assert apart_mm > MOST_MOVED_MM  # and the doubt is of the whole distance


def test_a_pattern_that_goes_on_tells_nothing() -> None:
    rng = np.random.default_rng(5)
    view = np.repeat(rng.uniform(20, 220, (1, READER_COLUMNS, 3)), ROWS, axis=0).astype(np.uint8)
    seal = edge(END_ROW)
    assert pattern_end_mm(seal, view) is None
    assert with_pattern(seal, view) == (seal, 0.0)


def test_a_pattern_that_changes_along_the_shaft_tells_nothing() -> None:
    """Coils before it, or their shadows: every millimetre looks different."""
    rng = np.random.default_rng(6)
    view = streaked(rng)
    view[int(END_ROW) + 1 :] = np.repeat(rng.uniform(20, 220, (50, 1, 3)), 4, axis=0)[
        : ROWS - int(END_ROW) - 1
    ]
    assert pattern_end_mm(edge(END_ROW), view) is None


def test_an_end_too_far_off_is_not_the_seals() -> None:
    assert pattern_end_mm(edge(END_ROW - 8), streaked(np.random.default_rng(7))) is None


@pytest.mark.parametrize("row", [3.0, ROWS - 4.0])
def test_an_edge_at_the_views_end_is_left_alone(row: float) -> None:
    seal = edge(row)
    moved, _ = with_pattern(seal, streaked(np.random.default_rng(8)))
    assert np.isfinite(moved.rows).all()

"""Views taken out of a photo's own pixels: what is straight stays where it is, noise is as coarse as the pixels."""

from __future__ import annotations

import numpy as np
import pytest

from scenes import pixels
from scenes.degrade import Phone
from scenes.pixels import Grid, Sampling, draw_grid, through_photo

CLEAN = Phone(noise=0.0)
SHAPE = (256, 64)  # of an edge view
STEP_MM = (0.08, 1.0)  # of a shaft of 17 mm
# Levels so similar that code values, in which photos are interpolated, are nearly proportional to light.
DARK, BRIGHT = 0.24, 0.3


def _edge_at(column: float) -> np.ndarray:
    """Light of a view whose columns up to a place are darker."""
    share = np.clip(column + 0.5 - np.arange(SHAPE[1]), 0.0, 1.0)
    grey = DARK * share + BRIGHT * (1 - share)
    return np.broadcast_to(grey[None, :, None], (*SHAPE, 3)).astype(np.float32)


def _light(codes: np.ndarray) -> np.ndarray:
    """Linear light of code values (IEC 61966-2-1)."""
    c = codes / 255.0
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("px_mm", [0.1, 0.2, 0.4])
@pytest.mark.parametrize("turn_rad", [-0.15, 0.0, 0.07])
def test_edge_stays_where_it_is(px_mm: float, turn_rad: float) -> None:
    """Plane geometry: half of the step in light lies where the edge does, whatever the pixels' size and turn.

    Pixels are taken as bell-shaped, not square: along an edge that is straight with them, they may be off by the first
    harmonic of their sampling, exp(-2 pi^2 / 12) / pi = 0.06 px; along any other that averages out.
    """
    at = 31.3
    view = through_photo(
        _edge_at(at),
        CLEAN,
        np.random.default_rng(1),
        1.0,
        Sampling(STEP_MM, (4, 1)),
        Grid(px_mm, turn_rad, (0.3, 0.8)),
    )
    rows = _light(view[8:-8].astype(float)).mean(axis=2)
    dark, bright = rows[:, :16].mean(), rows[:, -16:].mean()
    share = (rows - bright) / (dark - bright)
    found = share.sum(axis=1).mean() - 0.5
    assert found == pytest.approx(at, abs=0.06 if turn_rad else 0.04 + 0.07 * px_mm / STEP_MM[0])


@pytest.mark.parametrize("rows_averaged", [1, 4])
def test_a_rim_stays_where_it_is(rows_averaged: int) -> None:
    """The same of an edge that runs across: rows are 1 mm, pixels 0.2 mm."""
    across = np.swapaxes(_edge_at(31.3)[:64], 0, 1)
    view = through_photo(
        across,
        CLEAN,
        np.random.default_rng(1),
        1.0,
        Sampling((0.2, 1.0), (rows_averaged, 1)),
        Grid(0.2, 0.05, (0.3, 0.8)),
    )
    columns = _light(view[:, 8:-8].astype(float)).mean(axis=2)
    dark, bright = columns[:16].mean(), columns[-16:].mean()
    found = ((columns - bright) / (dark - bright)).sum(axis=0).mean() - 0.5
    assert found == pytest.approx(31.3, abs=0.06)


def test_pieces_of_a_strip_are_those_of_the_whole_photo(monkeypatch: pytest.MonkeyPatch) -> None:
    """A strip that is photographed in pieces shows what it shows as a whole: sharpened, in whole blocks of JPEG."""
    light = np.random.default_rng(2).uniform(0.05, 0.8, (*SHAPE, 3)).astype(np.float32)
    phone = Phone(noise=0.0, sharpen=0.5, jpeg=90, vignette=0.3, blur=0.3)

    def view(piece_px: int) -> np.ndarray:
        monkeypatch.setattr(pixels, "PIECE_PX", piece_px)
        sampling, grid = Sampling(STEP_MM, (4, 1)), Grid(0.1, 0.08, (0.3, 0.8))
        return through_photo(light, phone, np.random.default_rng(1), 1.0, sampling, grid).astype(float)

    whole, pieces = view(100000), view(60)
    # Blocks at the rim of a piece have other neighbours: there a value differs by a few.
    assert np.abs(whole - pieces).mean() < 0.5
    assert np.percentile(np.abs(whole - pieces), 99) < 6


def test_noise_is_as_coarse_as_the_photo_s_pixels() -> None:
    """Of pixels five columns wide neighbours show nearly the same noise; of pixels half as wide they do not."""
    flat = np.full((*SHAPE, 3), 0.18, np.float32)

    def correlation(px_mm: float) -> float:
        rng = np.random.default_rng(3)
        view = through_photo(
            flat, Phone(noise=0.02), rng, 1.0, Sampling(STEP_MM), Grid(px_mm, 0.05, (0.1, 0.4))
        )
        grey = view.astype(float).mean(axis=2)
        grey -= grey.mean()
        return float((grey[:, 1:] * grey[:, :-1]).mean() / (grey**2).mean())

    assert correlation(0.4) > 0.8
    assert correlation(0.04) < 0.5


def test_pixels_lie_at_random_but_nearly_straight() -> None:
    grids = [draw_grid(np.random.default_rng(seed), 0.2) for seed in range(200)]
    turns = np.array([g.turn_rad for g in grids])
    assert 0.06 < turns.std() < 0.12
    assert np.abs(turns).max() <= 0.2
    assert 0.2 < np.std([g.shift_px[0] for g in grids]) < 0.4

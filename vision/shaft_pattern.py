"""Where the bare shaft's own pattern ends: a second witness of the seal's edge.

What a shaft shows runs along it: reflections, coats, old streaks. Each column of the reader view is therefore nearly
even where it shows bare shaft, and where it stops being so something else begins.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.rims import RimCandidate
from vision.views import READER_STEP_MM, reader_columns

# The stretch of shaft whose pattern is taken, mm from the seal: clear of its shadow, short of what changes farther on.
PATTERN_MM = (0.9, 3.0)
# What lies on the other side is looked at from here to here, mm, and the end of the pattern looked for within so much.
BEYOND_MM, WITHIN_MM = (0.25, 1.2), 0.8
# Places looked at, mm apart: half a row.
FINE_MM = 0.5 * READER_STEP_MM
# Added to code values before their logarithm, so that noise in the dark (a few code values) counts little.
DARK_CODE = 16.0
# Rows differ from the pattern at least so much (logarithm), and count at most so many times their usual difference.
LEAST_SPREAD, MOST_TIMES = 0.02, 12.0
# Beyond its end the pattern must be missed by so many times what it is missed by on the shaft itself. From there on
# the end found is good to 0.25 mm on scenes kept out of training; under it, between coils, to 0.4 to 0.8 mm.
LEAST_CONTRAST = 10.0
# Its share in the edge, and how far it may move it, mm: beyond that a thick lip's picture in a polished shaft ends the
# pattern. The network sees the lip 0.15 mm too far back on path-traced photographs and 0.04 on scenes kept out of
# training, and the pattern ends 0.1 to 0.2 mm early, in the seal's shadow and in its picture in the shaft: half of
# either is near the least sum of mean squares over both (docs/measured.md).
SHARE, MOST_MOVED_MM = 0.5, 0.2


def with_pattern(seal: RimCandidate, view: np.ndarray) -> tuple[RimCandidate, float]:
    """Move a seal's edge towards where the shaft's pattern ends.

    Parameters
    ----------
    seal : RimCandidate
        As the network sees it.
    view : ndarray of uint8, shape (rows, 64, 3)
        The reader view.

    Returns
    -------
    seal : RimCandidate
        The same where the pattern does not tell.
    apart_mm : float
        How far the two witnesses lie apart; 0 where there is but one.
    """
    apart_mm = pattern_end_mm(seal, view)
    if apart_mm is None:
        return seal, 0.0
    moved = float(np.clip(SHARE * apart_mm, -MOST_MOVED_MM, MOST_MOVED_MM))
    return replace(seal, rows=seal.rows + moved / READER_STEP_MM, s_mm=seal.s_mm + moved), abs(apart_mm)


def pattern_end_mm(seal: RimCandidate, view: np.ndarray) -> float | None:
    """How far from the network's edge, along the shaft and away from the seal, the shaft's pattern ends, mm.

    Parameters
    ----------
    seal : RimCandidate
    view : ndarray of uint8, shape (rows, 64, 3)

    Returns
    -------
    float or None
        None where the pattern is uneven, or goes on.
    """
    offset_mm = np.arange(-PATTERN_MM[1], PATTERN_MM[1] + FINE_MM, FINE_MM)
    light = _along(seal, view, offset_mm)
    shaft = (offset_mm > PATTERN_MM[0]) & (offset_mm < PATTERN_MM[1])
    off = np.abs(light - np.median(light[:, shaft], axis=1, keepdims=True))
    usual = np.median(off[:, shaft], axis=1, keepdims=True) + LEAST_SPREAD
    missed = np.minimum(off / usual, MOST_TIMES).mean(axis=(0, 2))
    missed = np.convolve(np.pad(missed, 1, mode="edge"), np.full(3, 1 / 3), "valid")
    on_shaft = float(np.median(missed[shaft]))
    beyond = float(np.median(missed[(offset_mm < -BEYOND_MM[0]) & (offset_mm > -BEYOND_MM[1])]))
    if beyond < LEAST_CONTRAST * on_shaft:
        return None
    half = 0.5 * (on_shaft + beyond)
    # From the shaft towards the seal: the first place from which the pattern is missed by half as much as beyond.
    over = missed >= half
    for k in np.flatnonzero(np.abs(offset_mm) < WITHIN_MM)[::-1]:
        if over[k] and over[k - 1] and not over[k + 1]:
            share = (half - missed[k + 1]) / (missed[k] - missed[k + 1])
            return float(offset_mm[k + 1] - share * FINE_MM)
    return None


def _along(seal: RimCandidate, view: np.ndarray, offset_mm: np.ndarray) -> np.ndarray:
    """Logarithms of the view beside a smooth edge through the rim's points, shape (columns, offsets, 3)."""
    u = seal.u
    shape = np.stack([np.ones_like(u), np.sqrt(np.maximum(1 - u * u, 0.0)), u], axis=1)
    edge = shape @ np.linalg.lstsq(shape, seal.rows, rcond=None)[0]
    rows = np.clip(edge[:, None] + offset_mm / READER_STEP_MM, 0, len(view) - 1.001)
    columns = reader_columns(u)[:, None]
    low = rows.astype(int)
    part = (rows - low)[..., None]
    return np.log((1 - part) * view[low, columns] + part * view[low + 1, columns] + DARK_CODE)

"""Blocks of a damaged JPEG whose decoder noticed nothing: a step in the picture that begins in the middle of a row.

A JPEG holds each block's mean as the difference from the one before (ITU-T T.81, F.1.2.1). Bits that changed without
ending the stream shift every mean from one block on: the picture below and to the right of it is brighter, darker or
coloured, up to a stair of one row's height that lies on the grid of blocks. Nothing that is photographed has one.
"""

from __future__ import annotations

import numpy as np

from calibration.jpeg_parts import parts

# Rows above and below a border of blocks, and rows as far apart on either side of it: chroma that was stored at half
# the height is interpolated over the row next to the border.
_ABOVE, _BELOW, _APART = -2, 1, 3
# A border is crossed by a step where both rows differ by more than this, code values, and by so many times what rows as
# far apart differ by on either side.
STEP_CODES, STEP_TIMES = 6.0, 1.5
# A stair that counts as damage: share of the borders along it with a step, less that of the borders that continue it.
# Damaged pictures without a word of their decoder have 0.76 to 0.99, 3,076 sound ones up to 0.56 (docs/measured.md).
STAIR_SHARE = 0.65
# Share of the width that either part of a stair takes at the least: fewer blocks are no evidence.
LEAST_PART = 0.02
# Blocks across that a picture needs.
MIN_BLOCKS = 16


def block_size(content: bytes) -> tuple[int, int] | None:
    """Height and width of a JPEG's smallest unit, px (ITU-T T.81, A.2.3); None where its head does not say."""
    for marker, at, _ in parts(content, head=True):
        if marker not in (0xC0, 0xC1, 0xC2) or at + 10 > len(content):
            continue
        count = content[at + 9]
        factors = content[at + 11 : at + 10 + 3 * count : 3]
        if count <= 1 or len(factors) < count:
            return (8, 8) if count == 1 else None
        return 8 * max(f & 15 for f in factors), 8 * max(f >> 4 for f in factors)
    return None


def stair(pixels: np.ndarray, block: tuple[int, int]) -> float:
    """Look for the stair at which blocks begin to be shifted.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        As decoded.
    block : tuple of two int
        Height and width of a block, px of these pixels.

    Returns
    -------
    float
        Share of the borders along the clearest stair that a step crosses, less that of the borders that continue it;
        0 where the picture is too small.
    """
    height, width = block
    borders = np.arange(height, pixels.shape[0] + min(_ABOVE - _APART, -_BELOW - _APART) + 1, height)
    across = pixels.shape[1] // width
    if len(borders) < 2 or across < MIN_BLOCKS or height < 8 or width < 8:
        return 0.0
    # Two places a block, of two columns each: where their values lie in a row of pixels, channel by channel.
    columns = np.add.outer(np.arange(across) * width, [width // 4 - 1, 3 * width // 4 - 1]).ravel()
    first = 3 * columns + np.arange(3)[:, None]

    def rows(offset: int) -> np.ndarray:
        values = pixels[borders + offset].reshape(len(borders), -1)
        return np.asarray(values.take(first, axis=1).astype(np.int16) + values.take(first + 3, axis=1))

    above, below = rows(_ABOVE), rows(_BELOW)
    usual = np.maximum(np.abs(above - rows(_ABOVE - _APART)), np.abs(rows(_BELOW + _APART) - below))
    step = (np.abs(below - above) > 2 * STEP_CODES + STEP_TIMES * usual).any(axis=1)
    share = 0.5 * step[:, 0::2] + 0.5 * step[:, 1::2]
    sums = np.concatenate([np.zeros((len(borders), 1)), np.cumsum(share, axis=1)], axis=1)
    begins = np.arange(max(1, round(LEAST_PART * across)), across - round(LEAST_PART * across))
    left = sums[:, begins] / begins
    right = (sums[:, -1:] - sums[:, begins]) / (across - begins)
    # The stair runs along one border from a block on, and along the next one up to it.
    along = np.minimum(right[:-1], left[1:])
    beside = np.maximum(left[:-1], right[1:])
    return float((along - beside).max())

"""Conversion of stored pixel values to linear light."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


@lru_cache(maxsize=1)
def linear_table() -> np.ndarray:
    """Tabulate the relative linear light of the 256 sRGB code values.

    Phones tone-map on top of this curve, so the result is only roughly linear; the remaining error belongs to
    the uncertainty of an edge.

    Returns
    -------
    ndarray of float32, shape (256,)
        0 to 1. Source: IEC 61966-2-1 (from memory).
    """
    v = np.arange(256) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)

"""Used stroke from how far the marker moved since it was last slid to the seal."""

from __future__ import annotations

import math

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.stops import touching_limit_mm


def used_since_reset(moved_mm: Quantity, reset_compression_mm: Quantity | None) -> Quantity | None:
    """Give u = c_reset + D.

    Parameters
    ----------
    moved_mm : Quantity
        D, how far the marker's band moved since, mm. The lock met the seal at the reset as it did at the
        deepest point, so its overhang cancels.
    reset_compression_mm : Quantity or None
        c_reset, compression when the marker was slid to the seal, mm: zero only at full extension.

    Returns
    -------
    Quantity or None
        mm; at most c_reset where the marker has not moved; None where c_reset is not known, for D alone is
        not u.
    """
    if reset_compression_mm is None:
        return None
    if moved_mm.value <= touching_limit_mm(moved_mm.sigma):
        return Quantity(reset_compression_mm.value, reset_compression_mm.sigma, Bound.AT_MOST)
    return Quantity(
        reset_compression_mm.value + moved_mm.value,
        math.hypot(reset_compression_mm.sigma, moved_mm.sigma),
        Bound.EXACT,
    )

"""Used stroke from how far the marker moved since it was last slid to the seal."""

from __future__ import annotations

import math

from suspension.quantities.quantity import Bound, Quantity
from suspension.stroke.stops import touching_limit_mm


def used_since_reset(moved: Quantity, reset_compression: Quantity | None) -> Quantity | None:
    """Give u = c_reset + D.

    Parameters
    ----------
    moved : Quantity
        D, how far the marker's band moved since, mm. The lock met the seal at the reset as it did at the
        deepest point, so its overhang cancels.
    reset_compression : Quantity or None
        c_reset, compression when the marker was slid to the seal, mm: zero only at full extension.

    Returns
    -------
    Quantity or None
        mm; at most c_reset where the marker has not moved; None where c_reset is not known, for D alone is
        not u.
    """
    if reset_compression is None:
        return None
    if moved.value <= touching_limit_mm(moved.sigma):
        return Quantity(reset_compression.value, reset_compression.sigma, Bound.AT_MOST)
    return Quantity(
        reset_compression.value + moved.value,
        math.hypot(reset_compression.sigma, moved.sigma),
        Bound.EXACT,
    )

"""Used stroke from how far the marker moved since it was last slid to the seal."""

from __future__ import annotations

import math

from suspension.quantities.measured import Bound, Estimate, MeasuredLength
from suspension.stroke.stops import touching_limit_mm


def used_since_reset(moved: MeasuredLength, reset_compression: MeasuredLength | None) -> Estimate | None:
    """Give u = c_reset + D.

    Parameters
    ----------
    moved : MeasuredLength
        D, how far the marker's band moved since, mm. The lock met the seal at the reset as it did at the
        deepest point, so its overhang cancels.
    reset_compression : MeasuredLength or None
        c_reset, compression when the marker was slid to the seal, mm: zero only at full extension.

    Returns
    -------
    Estimate or None
        mm; at most c_reset where the marker has not moved; None where c_reset is not known, for D alone is
        not u.
    """
    if reset_compression is None:
        return None
    if moved.value_mm <= touching_limit_mm(moved.sd_mm):
        return Estimate(reset_compression.value_mm, reset_compression.sd_mm, Bound.AT_MOST)
    return Estimate(
        reset_compression.value_mm + moved.value_mm,
        math.hypot(reset_compression.sd_mm, moved.sd_mm),
        Bound.EXACT,
    )

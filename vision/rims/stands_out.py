"""How far a band stands out beyond the shaft's silhouettes: a marker lies round the shaft, a ring of grease on it."""

from __future__ import annotations

import numpy as np

from vision.geometry.views import READER_REACH, ReaderFrame
from vision.networks.classes import Part, PartMap
from vision.rims.candidates import RimCandidate

# Least distance beyond the silhouettes, mm, by which a marker stands out: straps are 1.0 to 1.45 mm thick, O-rings 1 to
# 3. Of 257 markers of five sets, as two networks see them, the least has 0.67.
STANDS_OUT_MM = 0.6
# Distance from which a band does not even reach both silhouettes. A reflection, a brake line or lettering lacks 2 to
# 12 mm; the markers that lack most (0.7 mm) are seen from 40 degrees below in a photo whose pose is off.
NOT_ROUND_MM = -1.0
# Rows on either side of the band's middle in which it is looked for (2 mm), rows beyond these in which the bare shaft
# beside it is (3 to 6 mm from the middle), and lateral position, radii, to which a row is followed round the shaft.
BAND_ROWS, SHAFT_ROWS, LAST_U = 8, (12, 24), 0.97
# Columns at a silhouette, radii; share of them covered by something in front from which that side shows nothing.
SILHOUETTE_U, COVERED_SHARE = (0.85, 1.1), 0.3
# Rows about the band in which the shaft's surface is unrolled: its middle lies higher or lower at the silhouettes by a
# radius times the slope of the view.
UNROLLED_ROWS = 400


def stands_out_mm(parts: PartMap, near: RimCandidate, end: RimCandidate | None) -> float | None:
    """Measure by how much a band is wider than the shaft on either side.

    Parameters
    ----------
    parts : PartMap
    near, end : RimCandidate
        The band's edges; `end` may be missing.

    Returns
    -------
    float or None
        Mean of the sides in view, mm; None where something covers both.
    """
    frame, p = parts.frame, parts.probabilities
    band = p[Part.MARKER] + p[Part.LOCK]
    middle = _rows_round_the_shaft(frame, near, near.s_mm if end is None else 0.5 * (near.s_mm + end.s_mm))
    last = p.shape[1] - 1
    columns = np.arange(p.shape[2])

    def rows(first: int, after: int) -> tuple[np.ndarray, np.ndarray]:
        return np.clip(middle[None, :] + np.arange(first, after)[:, None], 0, last), columns

    low, high = SHAFT_ROWS
    shaft = np.maximum(
        p[Part.SHAFT][rows(-high, -low)].mean(axis=0), p[Part.SHAFT][rows(low, high)].mean(axis=0)
    )
    more = band[rows(-BAND_ROWS, BAND_ROWS + 1)].max(axis=0) - shaft
    covered = p[Part.IN_FRONT][rows(-high, high)].mean(axis=0)
    more[covered > COVERED_SHARE] = 0.0
    u = frame.u()
    at_silhouette = (np.abs(u) > SILHOUETTE_U[0]) & (np.abs(u) < SILHOUETTE_U[1])
    column_mm = 2 * READER_REACH / len(u) * frame.cylinder.radius_mm
    sides = [
        float(more[side].sum()) * column_mm
        for side in (u < 0, u > 0)
        if covered[side & at_silhouette].mean() < COVERED_SHARE
    ]
    return float(np.mean(sides)) if sides else None


def _rows_round_the_shaft(frame: ReaderFrame, near: RimCandidate, s_mm: float) -> np.ndarray:
    """Row at which each column shows a position along the axis; beyond the silhouettes that at the silhouette."""
    u = np.clip(frame.u(), -LAST_U, LAST_U)
    middle = float(np.median(near.rows))
    first_mm, per_row_mm = frame.surface_along_columns((middle - UNROLLED_ROWS, middle + UNROLLED_ROWS), u)
    further = np.clip((s_mm - first_mm) / per_row_mm, 0.0, 2.0 * UNROLLED_ROWS)
    return np.asarray(np.rint(middle - UNROLLED_ROWS + further).astype(int))

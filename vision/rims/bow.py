"""The bow that all rims of a view share once unrolled: by so much the pose is off in its slant.

A rim is a circle round the shaft. Unrolled with the right slant it is a straight line across the view, with a slant
that is off an arc: all rims of one shaft are arcs of one bow, the seal's, the marker's and the far end's.
"""

from __future__ import annotations

import numpy as np

from vision.networks.classes import Part

# Columns belong to one rim if they lie within this of each other once unrolled, mm: a tie's tilt of 2 degrees on a
# 45 mm tube is 0.8 mm either way.
SAME_RIM_MM = 1.2
# Largest bow tried, a slant, and the columns that must join rims for each unit of it: of 150 rendered photos, whose
# poses are right, one asks for more than 0.04; of photographs with a card drawn in some ask for 0.3, and what their
# seal and their far end ask for, each fitted alone, agrees within 0.07.
MOST_BOW, BOW_COLUMNS = 0.4, 16.0
# Mean and standard deviation over the used columns (to 0.9 radii) of an arc's height, radii at a bow of one. Bows move
# no rim as a whole, but where on its arc a rim is remains open.
MEAN_ARC, ARC_SD = 0.84, 0.16
_BOWS = np.linspace(-MOST_BOW, MOST_BOW, 21)
# Kinds of border that form rims: the seal's, the marker's first, the far end's.
_RIMS: tuple[tuple[tuple[Part, ...], tuple[Part, ...]], ...] = (
    ((Part.SEAL,), (Part.SHAFT, Part.MARKER)),
    ((Part.SHAFT,), (Part.MARKER,)),
    ((Part.SHAFT, Part.MARKER), (Part.FAR_END,)),
)


def common_bow(kinds: list[tuple[Part, Part]], s_mm: np.ndarray, u: np.ndarray, radius_mm: float) -> float:
    """Find the bow with which most columns of all rims together lie on one line.

    Parameters
    ----------
    kinds : list of tuple of Part
        Parts before and after each border.
    s_mm : ndarray of shape (n,)
        Position of each along the axis, unrolled as the pose is.
    u : ndarray of shape (n,)
        Lateral positions, radii.
    radius_mm : float

    Returns
    -------
    float
        Slant, tangent of an angle; 0 where arcs of no other bow join more borders.
    """
    straight = s_mm[None, :] - np.array([arc_mm(bow, u, radius_mm) for bow in _BOWS])
    columns = -BOW_COLUMNS * np.abs(_BOWS)
    for before, after in _RIMS:
        s = straight[:, [k for k, (one, other) in enumerate(kinds) if one in before and other in after]]
        within = np.abs(s[:, :, None] - s[:, None, :]) <= SAME_RIM_MM
        columns += within.sum(axis=2).max(axis=1, initial=0)
    return float(_BOWS[np.argmax(columns)])


def arc_mm(bow: float, u: np.ndarray, radius_mm: float) -> np.ndarray:
    """Give the height along the shaft of an arc at lateral positions u, radii, over its mean."""
    return np.asarray(bow * radius_mm * (np.sqrt(1 - u**2) - MEAN_ARC))


def arc_sd_mm(bow: float, radius_mm: float) -> float:
    """Give the standard deviation of the heights of an arc's points."""
    return ARC_SD * abs(bow) * radius_mm

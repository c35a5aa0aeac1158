"""Whether the shaft is so dark or so bright in the photo that nothing on it can be seen."""

from __future__ import annotations

import numpy as np

from vision.parts import Part

# Where nine tenths of the shaft lie below so many code values, or above so many, rounding and JPEG leave no edge on it:
# a black bumper on a black shaft was then found 9 mm off. Of the darkest of the 37 photos a tenth lies above 8.3.
BLACK_CODES, WHITE_CODES = 3.0, 252.0
BLACK_SHARE, WHITE_SHARE = 90, 10
# Columns in use, radii from the axis, and points of the view that are surely shaft.
USED_U, SURE, LEAST_POINTS = 0.8, 0.5, 50


def badly_lit(view: np.ndarray, classes: np.ndarray, u: np.ndarray) -> str | None:
    """Say how the shaft is lit where that leaves nothing to see.

    Parameters
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The reader view.
    classes : ndarray of shape (7, rows, columns)
        What it shows.
    u : ndarray of shape (columns,)
        Lateral places of its columns, radii.

    Returns
    -------
    str or None
        None where it is lit well enough, or too little of it is seen to tell.
    """
    shaft = (classes[Part.SHAFT] > SURE) & (np.abs(u) < USED_U)
    if np.count_nonzero(shaft) < LEAST_POINTS:
        return None
    codes = view[shaft].mean(axis=1)
    bright, dark = np.percentile(codes, (BLACK_SHARE, WHITE_SHARE))
    if bright < BLACK_CODES:
        return "the shaft is black in the photo"
    if dark > WHITE_CODES:
        return "the shaft is burnt out in the photo"
    return None

"""Whether what the reader sees of the shaft reaches as far as its silhouettes: a third witness of its width."""

from __future__ import annotations

import numpy as np

from vision.parts import Part
from vision.rims import ends_u
from vision.views import READER_COLUMNS, READER_REACH, ReaderFrame

# Rows whose middle shows bare shaft this surely, so far to either side, are looked at; there must be 2 mm of them.
MIDDLE_U, SURE, LEAST_ROWS = 0.4, 0.8, 8
# On either side the shaft must end within this of its silhouette, radii: two of the view's columns. In all of 145
# photographs it ended in the column that the silhouette goes through, or the next.
NEAR_U = 0.15


def ends_elsewhere(classes: np.ndarray, frame: ReaderFrame) -> float | None:
    """How wide the shaft looks, against what diameter and silhouettes say, where that is not 1.

    Where one silhouette alone was seen, or reflections passed for both, nothing else tells.

    Parameters
    ----------
    classes : ndarray of shape (7, rows, columns)
        Class probabilities of the reader view.
    frame : ReaderFrame
        Of that view, laid along the silhouettes.

    Returns
    -------
    float or None
        None where both sides end where they should, or too little bare shaft is seen.
    """
    middle = classes[Part.SHAFT][:, np.abs(frame.u()) < MIDDLE_U]
    rows = np.flatnonzero(middle.mean(axis=1) > SURE)
    ends = ends_u(classes, Part.SHAFT, rows, frame) if len(rows) >= LEAST_ROWS else None
    if ends is None:
        return None
    half_column = READER_REACH / READER_COLUMNS
    low, high = half_column - ends[0], half_column + ends[1]
    off = max(abs(low - 1), abs(high - 1))
    return 0.5 * (low + high) if off > NEAR_U + half_column else None

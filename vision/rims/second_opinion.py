"""A second part segmentation, trained on other scenes, independent of the first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import READER_ROWS, ReaderFrame, rows_covering
from vision.networks.classes import Part
from vision.networks.run import ROWS_MULTIPLE, other_part_probabilities
from vision.networks.transitions import find_transitions
from vision.rims.candidates import RimCandidate

# Rows to either side of the rim that the network is shown (32 mm): enough for a clamp and some of the shaft, and a
# quarter of the time of the whole view.
SHOWN_ROWS = 128
# Rows to either side in which it may see the rim elsewhere (6 mm): twice as far as clamps beside polished tubes have
# misled any network. Of those, rows whose shares enter the position.
SEARCH_ROWS, NEAR_ROWS = 24, 12
# Least mean share of the right class on either side of the rim, and least share of the columns: less is no rim.
LEAST_SHARE, LEAST_COLUMNS = 0.5, 0.5


@dataclass(frozen=True)
class SecondOpinion:
    """Looks at rims with the other part segmentation.

    Attributes
    ----------
    view : ndarray of uint8, shape (rows, columns, 3)
        The view along the shaft.
    frame : ReaderFrame
        Its position in space.
    diameter_mm : float
    """

    view: np.ndarray
    frame: ReaderFrame
    diameter_mm: float

    def combined_with(self, probabilities: np.ndarray) -> np.ndarray:
        """Combine class probabilities (7, rows, columns) with this network's: the geometric mean of both.

        What either network excludes stays excluded.
        """
        shown = np.flatnonzero(self.view.any(axis=(1, 2)))
        rows = rows_covering((shown[0], shown[-1] + 1), READER_ROWS, ROWS_MULTIPLE)
        here = (slice(None), slice(*rows))
        out = probabilities.copy()
        both = np.sqrt(out[here] * other_part_probabilities(self.view[slice(*rows)], self.diameter_mm))
        out[here] = both / both.sum(axis=0, keepdims=True)
        return out

    def far_end_mm(self, rim: RimCandidate) -> float | None:
        """Find the far end near a rim.

        What ends the shaft may be taken for a seal as well as for a far end: only where it ends is asked for.

        Returns
        -------
        float or None
            Position along the axis, mm; None where no end of the shaft is seen there.
        """
        row = float(np.median(rim.rows))
        rows = rows_covering((row - SHOWN_ROWS, row + SHOWN_ROWS), READER_ROWS, ROWS_MULTIPLE)
        p = other_part_probabilities(self.view[slice(*rows)], self.diameter_mm)
        columns = np.unique(np.argmin(np.abs(self.frame.u()[:, None] - rim.u[None, :]), axis=0))
        starts = np.interp(self.frame.u()[columns], *_sorted(rim.u, rim.rows)) - rows[0] - SEARCH_ROWS
        at = np.rint(starts).astype(int)[:, None] + np.arange(2 * SEARCH_ROWS)[None, :]
        at = np.clip(at, 0, p.shape[1] - 1)
        shaft = p[Part.SHAFT][at, columns[:, None]]
        ends = (p[Part.FAR_END] + p[Part.SEAL])[at, columns[:, None]]
        found = find_transitions(shaft, ends, NEAR_ROWS)
        before = np.arange(at.shape[1])[None, :] < found.split[:, None]
        clear = np.minimum(_mean_where(shaft, before), _mean_where(ends, ~before)) > LEAST_SHARE
        if clear.mean() < LEAST_COLUMNS:
            return None
        s_mm, _ = self.frame.cylinder.unroll(
            self.frame.points_cam(
                (at[:, 0] + rows[0] + found.position - 0.5)[clear], self.frame.u()[columns][clear]
            )
        )
        return float(np.median(s_mm))


def _sorted(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(x)
    return x[order], y[order]


def _mean_where(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Mean along the lines over the points chosen; 0 where there are none."""
    return np.asarray((values * where).sum(axis=1) / np.maximum(where.sum(axis=1), 1))

"""The shaft's two silhouettes as the edge network sees them: one point a row, and how sure each is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vision.geometry.views import EDGE_COLUMNS, ReaderFrame, edge_column_u, edge_row_of_reader
from vision.networks.transitions import find_transitions

# Columns beside the border that must show shaft on one side and background on the other: an edge so close to
# the view's end may be any edge.
SHOULDER = 4
# Share of "anything else" near the border above which a row does not show the bare edge.
ELSE_LIMIT = 0.25
# A border softer than this many columns is a guess (a sharp one in a sharp photo takes 1 to 2).
SOFT_COLUMNS = 10.0


@dataclass(frozen=True)
class SilhouettePoints:
    """One silhouette, a point in each row that shows it.

    Attributes
    ----------
    reader_rows : ndarray of shape (n,)
        Rows of the reader view.
    u : ndarray of shape (n,)
        Distance from the frame's axis, radii, positive.
    sd_u : ndarray of shape (n,)
        Standard uncertainty of one point, radii, from the width over which the network is undecided.
    """

    reader_rows: np.ndarray
    u: np.ndarray
    sd_u: np.ndarray

    def points_px(self, frame: ReaderFrame, side: int) -> np.ndarray:
        """The points in the photo, px, shape (n, 2)."""
        if len(self.u) == 0:
            return np.zeros((0, 2))
        return frame.camera.project(frame.points_cam(self.reader_rows, -side * self.u))


def silhouette_points(shares: np.ndarray, reach_u: float, first_row: int = 0) -> SilhouettePoints:
    """Find the border of shaft and background in every row.

    Parameters
    ----------
    shares : ndarray of shape (3, rows, 64)
        Of one edge view: shaft, behind, else.
    reach_u : float
        How far the view reaches to either side of the silhouette, radii.
    first_row : int
        Where in the edge view these rows begin.

    Returns
    -------
    SilhouettePoints
        Rows without the bare edge are left out.
    """
    shaft, behind, other = shares
    found = find_transitions(shaft, behind, SOFT_COLUMNS)
    step, near = found.split, found.near
    column = np.arange(EDGE_COLUMNS)[None, :]
    inner, outer = near & (column < step[:, None]), near & (column >= step[:, None])
    elsewhere = (other * near).sum(axis=1) / np.maximum(near.sum(axis=1), 1)
    ok = (step >= SHOULDER) & (step <= EDGE_COLUMNS - SHOULDER) & (elsewhere < ELSE_LIMIT)
    ok &= found.width < SOFT_COLUMNS
    ok &= (shaft * inner).sum(axis=1) > 0.6 * inner.sum(axis=1)
    ok &= (behind * outer).sum(axis=1) > 0.6 * outer.sum(axis=1)
    rows = np.flatnonzero(ok)
    per_column = edge_column_u(reach_u)
    return SilhouettePoints(
        edge_row_of_reader(first_row + rows).astype(float),
        1 - reach_u + per_column * found.position[rows],
        per_column * np.maximum(found.width[rows], 1.0) / np.sqrt(12.0),
    )

"""Free places for labels: beside the shaft, never over card, marker, rims or one another.

Frame: canvas px of the photo's part, x right, y down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

# Labels are placed on a grid of so many px, fine beside any text.
CELL_PX = 4
# A place on the other side of the shaft than what it names costs as much as this share of the photo's width.
OTHER_SIDE_COST = 0.5


@dataclass(frozen=True)
class Wanted:
    """A label to be placed.

    Attributes
    ----------
    anchor_px : ndarray of shape (2,)
        What it names.
    size_px : tuple of two float
        Width and height of its box.
    outward : ndarray of shape (2,)
        Unit vector from the shaft to the label's side.
    """

    anchor_px: np.ndarray
    size_px: tuple[float, float]
    outward: np.ndarray


def free_places(
    labels: Sequence[Wanted], obstacles: Sequence[np.ndarray], size_px: tuple[int, int], gap_px: float
) -> list[np.ndarray | None]:
    """Place labels, each as near to what it names as is free.

    Parameters
    ----------
    labels : sequence of Wanted
    obstacles : sequence of ndarray of shape (n, 2)
        Polygons that nothing may cover.
    size_px : tuple of two int
        Width and height to stay within.
    gap_px : float
        To keep from obstacles and other labels.

    Returns
    -------
    list of ndarray of shape (2,) or None
        The top left corner of each box; None where nothing is free.
    """
    import cv2

    width, height = (max(1, int(side // CELL_PX)) for side in size_px)
    taken = np.zeros((height, width), np.uint8)
    for polygon in obstacles:
        points = polygon[np.all(np.isfinite(polygon), axis=1)]
        if len(points) < 2:
            continue
        # Far outside the picture there is nothing to cover, and cv2 takes 32-bit whole numbers alone.
        cells = (
            np.clip(points / CELL_PX, -4 * max(width, height), 5 * max(width, height))
            .round()
            .astype(np.int32)
        )
        cv2.fillPoly(taken, [cells], 1)
        thick = max(1, round(2 * gap_px / CELL_PX))
        cv2.polylines(taken, [cells], isClosed=True, color=1, thickness=thick)
    found: list[np.ndarray | None] = []
    for label in labels:
        corner = _nearest_free(label, taken, gap_px)
        found.append(corner)
        if corner is not None:
            left, top = (np.maximum(corner - gap_px, 0) // CELL_PX).astype(int)
            right, bottom = np.ceil((corner + np.array(label.size_px) + gap_px) / CELL_PX).astype(int)
            taken[top:bottom, left:right] = 1
    return found


def _nearest_free(label: Wanted, taken: np.ndarray, gap_px: float) -> np.ndarray | None:
    """Find the top left corner of the cheapest free box."""
    wide, tall = (int(np.ceil(side / CELL_PX)) for side in label.size_px)
    height, width = taken.shape
    if wide > width or tall > height:
        return None
    sums = np.zeros((height + 1, width + 1), np.int64)
    sums[1:, 1:] = taken.cumsum(0).cumsum(1)
    inside = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide] + sums[:-tall, :-wide]
    rows, columns = np.nonzero(inside == 0)
    if not len(rows):
        return None
    corners = np.c_[columns, rows] * float(CELL_PX)
    size = np.array([wide, tall]) * float(CELL_PX)
    nearest = np.clip(label.anchor_px, corners, corners + size)
    away = np.linalg.norm(nearest - label.anchor_px, axis=1)
    middle = corners + size / 2 - label.anchor_px
    other_side = middle @ label.outward < 0
    # Of places as near, the one whose middle is nearest: a label stands beside what it names, not above it.
    cost = away + 0.2 * np.linalg.norm(middle, axis=1) + other_side * OTHER_SIDE_COST * width * CELL_PX
    corner: np.ndarray = corners[int(np.argmin(cost))]
    return corner

"""The straight bars of a photograph, and the place for a card beside one: what comes nearest to a shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bench.drawn_card import HIGH_MM, WIDE_MM

# Longer side, px, of the small picture in which bars are looked for, and the shortest edge that counts there.
_SIDE_PX, _EDGE_PX = 900, 60
# Widths of a bar over the longer side: below, a card to its scale is too small to be read; above, it does not fit.
_WIDTH_SHARE = (0.015, 0.16)
# A shaft shows at least this many diameters, and its edges are parallel to within this angle.
_LEAST_ASPECT, _PARALLEL_RAD = 2.0, 0.05
# Scale, px/mm, below which no card is read, with a margin (1.6: `calibration.find_card`).
_LEAST_PX_PER_MM = 2.0
# Clear distance between bar and card, mm, as on the printed sheet.
_GAP_MM = 6.0


@dataclass(frozen=True)
class Bar:
    """Two parallel edges.

    Attributes
    ----------
    middle_px : ndarray of shape (2,)
    along : ndarray of shape (2,)
        Unit vector.
    length_px, width_px : float
    """

    middle_px: np.ndarray
    along: np.ndarray
    length_px: float
    width_px: float


def bars(pixels: np.ndarray) -> list[Bar]:
    """Find pairs of straight parallel edges, the longest first.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    """
    import cv2

    high, wide = pixels.shape[:2]
    factor = min(1.0, _SIDE_PX / max(high, wide))
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    found = cv2.createLineSegmentDetector().detect(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY))[0]
    if found is None:
        return []
    ends = found.reshape(-1, 2, 2).astype(float)
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    # The 80 longest edges: pairs grow with the square.
    longest = np.argsort(-lengths)[:80]
    ends, lengths = ends[longest], lengths[longest]
    ends, lengths = ends[lengths >= _EDGE_PX], lengths[lengths >= _EDGE_PX]
    side = max(small.shape[:2])
    pairs = []
    for i in range(len(ends)):
        along = (ends[i, 1] - ends[i, 0]) / lengths[i]
        across = np.array([-along[1], along[0]])
        for j in range(i + 1, len(ends)):
            other = (ends[j, 1] - ends[j, 0]) / lengths[j]
            if abs(float(across @ other)) > _PARALLEL_RAD:
                continue
            width = abs(float((ends[j].mean(axis=0) - ends[i].mean(axis=0)) @ across))
            first, second = np.sort(ends[i] @ along), np.sort(ends[j] @ along)
            low, high_end = max(first[0], second[0]), min(first[1], second[1])
            if (
                not _WIDTH_SHARE[0] * side <= width <= _WIDTH_SHARE[1] * side
                or high_end - low < _LEAST_ASPECT * width
            ):
                continue
            centre = along * (low + high_end) / 2
            centre = centre + across * float((ends[i].mean(axis=0) + ends[j].mean(axis=0)) @ across) / 2
            pairs.append(Bar(centre / factor, along, (high_end - low) / factor, width / factor))
    return sorted(pairs, key=lambda one: -one.length_px)


def beside(bar: Bar, diameter_mm: float, size: tuple[int, int]) -> np.ndarray | None:
    """Lay a card beside a bar, to the scale at which the bar is as wide as a shaft.

    Parameters
    ----------
    bar : Bar
    diameter_mm : float
    size : tuple of int
        Width and height of the photo, px.

    Returns
    -------
    ndarray of shape (4, 2), or None
        As `bench.drawn_card.Placed.corners_px`; None where no such card fits into the photo.
    """
    scale = bar.width_px / diameter_mm
    if scale < _LEAST_PX_PER_MM:
        return None
    across = np.array([-bar.along[1], bar.along[0]])
    for side in (1, -1):
        for turn in (1, -1):
            down = turn * bar.along
            right = np.array([down[1], -down[0]])
            centre = bar.middle_px + side * across * scale * (diameter_mm / 2 + _GAP_MM + WIDE_MM / 2)
            half = scale * np.array([WIDE_MM, HIGH_MM]) / 2
            corners = np.array(
                [
                    centre + x * half[0] * right + y * half[1] * down
                    for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
                ]
            )
            inside = (
                (corners >= 1).all()
                and (corners[:, 0] < size[0] - 1).all()
                and (corners[:, 1] < size[1] - 1).all()
            )
            if inside:
                return corners
    return None

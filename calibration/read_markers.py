"""Reading of the numbers of many markers at once, for the first look at a photo whose card is plain to see.

OpenCV compares each outline that may be a marker with every marker of its dictionary, one after the other: half of the
time of the search for a card. Here all outlines are looked up together. What this leaves open OpenCV searches anew.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from calibration.card import MARKER_CELLS
from calibration.markers import marker_dictionary

# Points along a cell's side at which it is looked at, shares of the side: what lies nearer to its rim may be the next
# cell's (OpenCV leaves out 0.13 as well).
_IN_CELL = np.array([0.25, 0.5, 0.75])
# Least difference of the dark and the light cells, code values: less is no marker but noise.
LEAST_CONTRAST = 20.0
# Cells that may be read wrongly: of the five bits a side one, as in OpenCV's search (0.6 of the two that the dictionary
# can correct); of the 24 black cells round them so many (OpenCV: 8).
WRONG_BITS, WRONG_BORDER = 1, 4

# A photo of a card has some 50 outlines. Of thousands, in gravel or in noise, none is looked at.
MOST_OUTLINES = 2000


@lru_cache(maxsize=1)
def _patterns() -> np.ndarray:
    """Bits of all markers in each quarter turn, row by row: shape (25, 4 * markers), -1 and 1."""
    dictionary = marker_dictionary()
    side = dictionary.markerSize
    # In memory a marker's bytes of one quarter turn follow each other, whatever the array's shape says.
    packed = np.ascontiguousarray(dictionary.bytesList).reshape(len(dictionary.bytesList), 4, -1)
    bits = np.unpackbits(packed.transpose(1, 0, 2), axis=2)
    # OpenCV packs each byte from its highest bit, and the last byte's bits at its low end.
    count, last = side * side, side * side % 8
    bits = np.concatenate([bits[..., : count - last], bits[..., bits.shape[2] - last :]], axis=2)
    return np.asarray(2.0 * bits.reshape(-1, count).T - 1, np.float32)


def read_markers(image: np.ndarray, quads: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Read the numbers in outlines that may be markers.

    Parameters
    ----------
    image : ndarray of uint8, shape (h, w)
    quads : ndarray of shape (n, 4, 2)
        Corners of the outlines, px, clockwise as seen.

    Returns
    -------
    ids : ndarray of int, shape (m,)
        Numbers of those that are markers.
    quads : ndarray of shape (m, 4, 2)
        Their corners, the marker's own first corner first.
    which : ndarray of int, shape (m,)
        Their places among the outlines.
    """
    if not 0 < len(quads) <= MOST_OUTLINES:
        return np.zeros(0, int), np.zeros((0, 4, 2)), np.zeros(0, int)
    light = _cells(image, quads)
    threshold, contrast = _threshold(light.reshape(len(quads), -1))
    bright = light > threshold[:, None, None]
    inner = bright[:, 1:-1, 1:-1].reshape(len(quads), -1)
    border = bright.sum(axis=(1, 2)) - inner.sum(axis=1)
    # The product of bits of -1 and 1 is their count less twice the number of those that differ.
    alike = (2 * inner.astype(np.float32) - 1) @ _patterns()
    best = alike.argmax(axis=1)
    wrong = (inner.shape[1] - alike[np.arange(len(quads)), best]) / 2
    good = np.flatnonzero((contrast >= LEAST_CONTRAST) & (border <= WRONG_BORDER) & (wrong <= WRONG_BITS))
    turns, ids = np.divmod(best, _patterns().shape[1] // 4)
    order = (np.arange(4) - turns[good, None]) % 4
    return ids[good], quads[good][np.arange(len(good))[:, None], order], good


def _threshold(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Threshold between the dark and the light values of each row (Otsu 1979), and the difference of their means."""
    ordered = np.sort(values, axis=1)
    count = ordered.shape[1]
    dark = np.arange(1, count)
    sums = np.cumsum(ordered, axis=1)
    means = sums[:, :-1] / dark, (sums[:, -1:] - sums[:, :-1]) / (count - dark)
    apart = means[1] - means[0]
    best = np.argmax(dark * (count - dark) * apart**2, axis=1)
    rows = np.arange(len(values))
    return 0.5 * (ordered[rows, best] + ordered[rows, best + 1]), apart[rows, best]


def _cells(image: np.ndarray, quads: np.ndarray) -> np.ndarray:
    """Mean brightness of each cell of each outline, shape (n, 7, 7)."""
    import cv2

    along = ((np.arange(MARKER_CELLS)[:, None] + _IN_CELL) / MARKER_CELLS).ravel()
    v, u = np.meshgrid(along, along, indexing="ij")
    # The projective map of the unit square to a quadrilateral in closed form (Heckbert 1989, 2.2.3).
    p0, p1, p2, p3 = np.moveaxis(_outer(quads.astype(float)), 1, 0)
    total, d1, d2 = p0 - p1 + p2 - p3, p1 - p2, p3 - p2
    turn = _cross(d1, d2)
    turn = np.where(turn == 0, 1e-9, turn)
    g, h = _cross(total, d2) / turn, _cross(d1, total) / turn
    a, b = p1 - p0 + g[:, None] * p1, p3 - p0 + h[:, None] * p3
    depth = g[:, None, None] * u + h[:, None, None] * v + 1
    xy = [
        ((a[:, k, None, None] * u + b[:, k, None, None] * v + p0[:, k, None, None]) / depth).astype(
            np.float32
        )
        for k in (0, 1)
    ]
    # A row for each outline.
    x, y = (one.reshape(len(quads), -1) for one in xy)
    seen = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    every = seen.reshape(len(quads), MARKER_CELLS, len(_IN_CELL), MARKER_CELLS, len(_IN_CELL))
    return np.asarray(every.mean(axis=(2, 4), dtype=np.float32))


def _outer(quads: np.ndarray) -> np.ndarray:
    """Widen outlines by half a pixel: they run through the middles of the outermost black pixels."""
    middle = quads.mean(axis=1, keepdims=True)
    side_px = np.linalg.norm(np.diff(quads, axis=1), axis=2).mean(axis=1)
    return np.asarray(middle + (quads - middle) * (1 + 1 / np.maximum(side_px, 1.0))[:, None, None])


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])

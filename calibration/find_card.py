"""Detection of the card in a photo: its number, its inner corners to a twentieth of a pixel, and the blur there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration import card
from calibration.detect_markers import (
    MARKERS_NEEDED,
    find_markers,
    find_when_sharpened,
    is_large,
    most_of_one_card,
)
from calibration.errors import CalibrationError
from calibration.grey import Grey

# Markers from which a second card counts: a false decode occurs in about one of ten photos.
MARKERS_OF_ANOTHER_CARD = 3
# Corners from which pose and residual are determined with a margin: 16 values for 6 parameters.
CORNERS_NEEDED = 8
# Blur (Gaussian sd), px, from which corners are lost or biased: at 5 px/mm all are found at 1.2 px, two thirds at
# 2 px, 2 % at 3 px (project's vision notes).
BLUR_LIMIT_PX = 3.0
# Scale, px/mm, below which a 2.5 mm tie is under 4 px wide: its two edges cannot be separated.
SCALE_NEEDED_PX_PER_MM = 1.6


@dataclass(frozen=True)
class CardSighting:
    """The card as detected in one photo.

    Attributes
    ----------
    number : int
        Number of the card, 0 to 46.
    corner_ids : ndarray of int, shape (n,)
    corners_px : ndarray of shape (n, 2)
        Refined inner corners, px of the photo as stored.
    markers : int
        Number of markers read, of 21.
    tags : tuple of card.Tag
        Clip-on tags in the photo.
    blur_px : float
        Gaussian sd of the edge spread at the corners, median, px, along or across the card, whichever is larger.
    px_per_mm : float
        Image scale at the card's middle along its long edge, nominal print.
    blur_along_px : float
        The same of the blur along the card's long edge.
    """

    number: int
    corner_ids: np.ndarray
    corners_px: np.ndarray
    markers: int
    tags: tuple[card.Tag, ...]
    blur_px: float
    px_per_mm: float
    blur_along_px: float = 0.0

    def turned_round(self) -> CardSighting:
        """Return the same card as if its other end were the seal end: inner corner k becomes the last but k."""
        return replace(self, corner_ids=len(card.corners_mm()) - 1 - self.corner_ids)


class CardError(CalibrationError):
    """The photo has no usable card.

    Attributes
    ----------
    kind : str
        "none", "hidden", "several", "blurred" or "small".
    outlines_px : tuple of ndarray of shape (4, 2)
        Round the markers of each card that was seen, the one with the most first.
    """

    def __init__(
        self, kind: str, message: str, remedy: str, outlines_px: tuple[np.ndarray, ...] = ()
    ) -> None:
        super().__init__(message, remedy)
        self.kind = kind
        self.outlines_px = outlines_px


def find_card(pixels: np.ndarray) -> CardSighting:
    """Find the one card in a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3) or (h, w)
        The photo, in R, G, B or in grey, in any orientation.

    Returns
    -------
    CardSighting

    Raises
    ------
    CardError
        If no card, several cards, or a card that is too hidden, blurred or small is found.
    """
    photo = Grey(pixels)
    ids, quads = find_markers(photo)
    try:
        return _sighting(photo, ids, quads)
    except CardError as error:
        error.outlines_px = _outlines(ids, quads)
        raise


def _outlines(ids: np.ndarray, quads: np.ndarray) -> tuple[np.ndarray, ...]:
    """Rectangles round the markers of each card, the one with the most first; single markers are false ones."""
    import cv2

    numbers = ids // card.MARKERS_PER_CARD
    counts = {n: int(np.sum(numbers == n)) for n in sorted(set(numbers.tolist())) if n < card.CARD_COUNT}
    cards = sorted((n for n, count in counts.items() if count > 1), key=lambda n: -counts[n])
    return tuple(
        np.asarray(cv2.boxPoints(cv2.minAreaRect(quads[numbers == n].reshape(-1, 2).astype(np.float32))))
        for n in cards
    )


def _sighting(photo: Grey, ids: np.ndarray, quads: np.ndarray) -> CardSighting:
    """Judge the markers found, and refine the card's corners."""
    groups = {n: np.flatnonzero(ids // card.MARKERS_PER_CARD == n) for n in range(card.CARD_COUNT)}
    counts = {n: len(g) for n, g in groups.items() if len(g)}
    most = max(counts.values(), default=0)
    if most < MARKERS_NEEDED:
        # Where enough markers can be read after all, the blur of their corners decides.
        sharp_ids, sharp_quads = find_when_sharpened(photo.whole)
        seen = most_of_one_card(sharp_ids)
        if seen >= MARKERS_NEEDED:
            return _sighting(photo, sharp_ids, sharp_quads)
        if seen >= max(MARKERS_OF_ANOTHER_CARD, 2 * most + 1):
            raise CardError("blurred", "the card is too blurred to be read", "hold the phone still")
    if most < MARKERS_OF_ANOTHER_CARD:
        raise CardError(
            "none", "no card was found", "lay the card beside the shaft, printed face to the camera"
        )
    number = max(counts, key=lambda n: counts[n])
    others = [n for n, c in counts.items() if n != number and c >= MARKERS_OF_ANOTHER_CARD]
    if others:
        names = ", ".join(str(n) for n in sorted([number, *others]))
        raise CardError("several", f"cards {names} are all in the photo", "leave one card in the photo")
    size_px = float(np.median(np.linalg.norm(np.diff(quads[groups[number]], axis=1), axis=2)))
    if counts[number] < MARKERS_NEEDED and size_px / card.MARKER_MM < SCALE_NEEDED_PX_PER_MM:
        raise CardError(
            "small", f"the card is only {size_px / card.MARKER_MM:.1f} px/mm large in the photo", "go closer"
        )
    if counts[number] < MARKERS_NEEDED:
        raise CardError(
            "hidden",
            f"only {counts[number]} of the card's 21 markers could be read",
            "uncover the whole card",
        )
    own = groups[number]
    local = ids[own] - number * card.MARKERS_PER_CARD
    board_to_px = _homography(card.marker_quads_mm()[local].reshape(-1, 2), quads[own].reshape(-1, 2))
    corner_ids, corners_px = _refine(photo, board_to_px)
    if is_large(photo) and CORNERS_NEEDED <= len(corner_ids) < card.CORNER_COUNT:
        # Outlines of small markers are whole pixels: where they predict a corner badly, the corners found do better.
        by_corners = _homography(card.corners_mm()[corner_ids], corners_px)
        again_ids, again_px = _refine(photo, by_corners)
        if len(again_ids) > len(corner_ids):
            board_to_px, corner_ids, corners_px = by_corners, again_ids, again_px
    middle = _apply(board_to_px, np.array([[18.0, 78.0], [18.0, 90.0]]))
    px_per_mm = float(np.linalg.norm(middle[1] - middle[0]) / 12.0)
    if px_per_mm < SCALE_NEEDED_PX_PER_MM:
        raise CardError("small", f"the card is only {px_per_mm:.1f} px/mm large in the photo", "go closer")
    along_px, across_px = _blur(photo, board_to_px, corner_ids)
    blur_px = max(along_px, across_px)
    if len(corner_ids) < CORNERS_NEEDED or blur_px > BLUR_LIMIT_PX:
        if blur_px > 0.6 * BLUR_LIMIT_PX:
            raise CardError(
                "blurred", f"the card's edges are blurred over {blur_px:.1f} px", "hold the phone still"
            )
        raise CardError(
            "hidden", f"only {len(corner_ids)} of 26 corners could be seen", "uncover the whole card"
        )
    tags = tuple(card.TAGS[i] for i in sorted(set(ids.tolist())) if i in card.TAGS)
    return CardSighting(number, corner_ids, corners_px, len(own), tags, blur_px, px_per_mm, along_px)


def _homography(board_mm: np.ndarray, points_px: np.ndarray) -> np.ndarray:
    import cv2

    matrix, _ = cv2.findHomography(board_mm, points_px, cv2.RANSAC, 3.0 + 0.002 * float(np.ptp(points_px)))
    if matrix is None:
        raise CardError("hidden", "the card's markers do not lie on one plane", "uncover the whole card")
    return matrix


def _apply(matrix: np.ndarray, xy: np.ndarray) -> np.ndarray:
    h = np.c_[xy, np.ones(len(xy))] @ matrix.T
    return np.asarray(h[:, :2] / h[:, 2:])


def _refine(photo: Grey, board_to_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Refine every predicted inner corner; keep those where four squares cross."""
    import cv2

    nominal = card.corners_mm()
    guess = _apply(board_to_px, nominal)
    square_px = float(np.median(np.linalg.norm(np.diff(guess[::2], axis=0), axis=1)))
    # The window excludes the markers, whose outline begins 1.5 mm inside a white square.
    half = int(np.clip(0.11 * square_px, 3, 11))
    inside = np.all((guess > half + 2) & (guess < np.array(photo.size) - half - 3), axis=1)
    index = np.flatnonzero(inside)
    if len(index) == 0:
        return index, np.zeros((0, 2))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.001)
    # Corners, with room for their windows and for the quadrants looked at beside them.
    around = 2 * half + 3 + square_px
    if is_large(photo):
        grey, origin = photo.part(guess[index].min(axis=0) - around, guess[index].max(axis=0) + around)
    else:
        grey, origin = photo.whole, np.zeros(2)
    start = np.ascontiguousarray((guess[index] - origin).astype(np.float32)).reshape(-1, 1, 2)
    points = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), stop).reshape(-1, 2)
    points = points + origin.astype(np.float32)
    moved = np.linalg.norm(points - guess[index], axis=1)
    good = _are_crossings(grey, origin, board_to_px, (nominal[index], points - guess[index]))
    # The homography misses lens distortion only: well under a tenth of a square.
    good &= moved < max(1.5, 0.1 * square_px)
    return index[good], points[good].astype(float)


def _are_crossings(
    grey: np.ndarray, origin_px: np.ndarray, board_to_px: np.ndarray, corners: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    """Test at which corners (n,) two dark and two light quadrants meet in the board's order, with enough contrast.

    Parameters
    ----------
    grey : ndarray of uint8, shape (h, w)
        The part of the photo that begins at `origin_px`.
    origin_px : ndarray of shape (2,)
    board_to_px : ndarray of shape (3, 3)
    corners : tuple of two ndarrays of shape (n, 2)
        On the card, mm, and how far each was found from where `board_to_px` puts it, px.
    """
    xy_mm, shift_px = corners
    offsets = 1.1 * np.array([[-1, -1], [1, -1], [-1, 1], [1, 1]])
    around = (xy_mm[:, None, :] + offsets).reshape(-1, 2)
    at = _apply(board_to_px, around).reshape(-1, 4, 2) + shift_px[:, None, :] - origin_px
    columns, rows = np.moveaxis(np.rint(at).astype(int), -1, 0)
    v = grey[np.clip(rows, 0, grey.shape[0] - 1), np.clip(columns, 0, grey.shape[1] - 1)].astype(float)
    # Square (row, column) is black where their sum is even; the quadrant up-left of a corner is (row-1, column-1).
    black_up_left = np.rint(xy_mm / card.SQUARE_MM).astype(int).sum(axis=1) % 2 == 0
    v = np.where(black_up_left[:, None], v, v[:, [1, 0, 3, 2]])
    dark, light = v[:, [0, 3]], v[:, [1, 2]]
    contrast = light.min(axis=1) - dark.max(axis=1)
    spread = np.maximum(np.ptp(light, axis=1), np.ptp(dark, axis=1))
    return np.asarray((contrast > 12) & (spread < 0.8 * (light.mean(axis=1) - dark.mean(axis=1))))


def _blur(photo: Grey, board_to_px: np.ndarray, corner_ids: np.ndarray) -> tuple[float, float]:
    """Estimate the Gaussian sd of the edges between squares, px: contrast / (steepest slope x sqrt(2 pi)).

    Returns
    -------
    along, across : float
        Of the blur along the card and across it: camera shake has one direction. Where one is not seen, the other.
    """
    import cv2

    from calibration.light import linear_table

    if len(corner_ids) == 0:
        return float("inf"), float("inf")
    # Profiles across the edges that start at each corner, from -1.3 to 1.3 mm, where the squares are
    # uniform (markers begin 1.5 mm inside).
    t = np.linspace(-1.3, 1.3, 53)
    lines = []
    for along in (np.array([1.0, 0.0]), np.array([0.0, 1.0])):
        for start in (0.7, 1.1, -0.7, -1.1):
            lines.append(start * along + t[:, None] * along[::-1])
    corners = np.array([card.corner_mm(int(k)) for k in corner_ids])
    at_mm = (corners[:, None, None, :] + np.array(lines)[None]).reshape(-1, 2)
    px = _apply(board_to_px, at_mm).reshape(-1, len(t), 2).astype(np.float32)
    every = px.reshape(-1, 2)
    part, low = photo.part(every.min(axis=0) - 2, every.max(axis=0) + 3)
    local = px - low.astype(np.float32)
    values = cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light = linear_table()[values]
    step_px = np.linalg.norm(px[:, -1] - px[:, 0], axis=1) / (len(t) - 1)
    low_side, high_side = light[:, :6].mean(axis=1), light[:, -6:].mean(axis=1)
    smooth = (light[:, :-2] + light[:, 1:-1] + light[:, 2:]) / 3
    slope = np.abs(np.diff(smooth, axis=1)).max(axis=1) / step_px
    contrast = np.abs(high_side - low_side)
    plain = (contrast > 0.02) & (slope > 0)
    blur_px = np.divide(contrast, slope * np.sqrt(2 * np.pi), out=np.full(len(slope), np.nan), where=plain)
    if not plain.any():
        return float("inf"), float("inf")
    # Half of each corner's profiles run one way, half the other.
    ways = blur_px.reshape(len(corner_ids), 2, -1)
    seen = [float(np.nanmedian(way)) if np.isfinite(way).any() else None for way in (ways[:, 0], ways[:, 1])]
    most = max(one for one in seen if one is not None)
    return most if seen[0] is None else seen[0], most if seen[1] is None else seen[1]

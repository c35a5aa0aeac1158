"""Detection of the card in a photo: its number, its inner corners to a twentieth of a pixel, and the blur there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from calibration import card
from calibration.errors import CalibrationError
from calibration.markers import marker_dictionary
from calibration.pixels import shrunk

# Longest side, px, of the reduced image for the second search. A marker cell (9/7 mm) still has about 3 px where
# the card fills half the photo; on rendered photos no marker was lost against full size, in a third of the time.
SEARCH_SIDE_PX = 2100
# Longest side, px, of the reduced image for the first search, a fifth of a phone's 4032, and the markers of 21 at
# which its result is used (measured on 31 photos: docs/measured.md, "Speed of the card search").
FIRST_SIDE_PX, PLAIN_CARD_MARKERS = 810, 14
# With fewer markers of 21 the card counts as hidden: a third of the card does not determine its tilt, and so not
# the scale along the shaft.
MARKERS_NEEDED = 8
# Matching takes time in proportion to the markers compared (1000 in the dictionary: nine tenths of the search), so
# only every seventh marker of each card, three in all, is searched first; all, where none of these is found. Five
# markers per card took 1.3 times as long with the same result [measured].
MARKER_STRIDE = 7
# Markers from which a second card counts: a false decode occurs in about one of ten photos.
MARKERS_OF_ANOTHER_CARD = 3
# Corners from which pose and residual are determined with a margin: 16 values for 6 parameters.
CORNERS_NEEDED = 8
# Blur (Gaussian sd), px, from which corners are lost or biased: at 5 px/mm all are found at 1.2 px, two thirds at
# 2 px, 2 % at 3 px (project's vision notes).
BLUR_LIMIT_PX = 3.0
# Shorter outlines cannot be a readable marker: its perimeter is 36 mm, at 1.1 px/mm.
SMALLEST_PERIMETER_PX = 40.0
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
        Gaussian sd of the edge spread at the corners, median, px.
    px_per_mm : float
        Image scale at the card's middle along its long edge, nominal print.
    """

    number: int
    corner_ids: np.ndarray
    corners_px: np.ndarray
    markers: int
    tags: tuple[card.Tag, ...]
    blur_px: float
    px_per_mm: float


class CardError(CalibrationError):
    """The photo has no usable card; `kind` is one of "none", "hidden", "several", "blurred", "small"."""

    def __init__(self, kind: str, message: str, remedy: str) -> None:
        super().__init__(message, remedy)
        self.kind = kind


def find_card(grey: np.ndarray) -> CardSighting:
    """Find the one card in a photo.

    Parameters
    ----------
    grey : ndarray of uint8, shape (h, w)
        The photo, in any orientation.

    Returns
    -------
    CardSighting

    Raises
    ------
    CardError
        If no card, several cards, or a card that is too hidden, blurred or small is found.
    """
    ids, quads = _search(grey)
    groups = {n: np.flatnonzero(ids // card.MARKERS_PER_CARD == n) for n in range(card.CARD_COUNT)}
    counts = {n: len(g) for n, g in groups.items() if len(g)}
    most = max(counts.values(), default=0)
    if most < MARKERS_NEEDED and _markers_when_sharpened(grey) >= max(MARKERS_OF_ANOTHER_CARD, 2 * most + 1):
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
    corner_ids, corners_px = _refine(grey, board_to_px)
    middle = _apply(board_to_px, np.array([[18.0, 78.0], [18.0, 90.0]]))
    px_per_mm = float(np.linalg.norm(middle[1] - middle[0]) / 12.0)
    if px_per_mm < SCALE_NEEDED_PX_PER_MM:
        raise CardError("small", f"the card is only {px_per_mm:.1f} px/mm large in the photo", "go closer")
    blur_px = _blur(grey, board_to_px, corner_ids)
    if len(corner_ids) < CORNERS_NEEDED or blur_px > BLUR_LIMIT_PX:
        if blur_px > 0.6 * BLUR_LIMIT_PX:
            raise CardError(
                "blurred", f"the card's edges are blurred over {blur_px:.1f} px", "hold the phone still"
            )
        raise CardError(
            "hidden", f"only {len(corner_ids)} of 26 corners could be seen", "uncover the whole card"
        )
    tags = tuple(card.TAGS[i] for i in sorted(set(ids.tolist())) if i in card.TAGS)
    return CardSighting(number, corner_ids, corners_px, len(own), tags, blur_px, px_per_mm)


@lru_cache(maxsize=32)
def _dictionary(ids: tuple[int, ...]) -> Any:
    """Build the dictionary of some markers only; a match is then an index into `ids`."""
    import cv2

    whole = marker_dictionary()
    return cv2.aruco.Dictionary(
        np.ascontiguousarray(whole.bytesList[list(ids)]), whole.markerSize, whole.maxCorrectionBits
    )


@lru_cache(maxsize=8)
def _board(number: int) -> Any:
    """Build OpenCV's description of one card: its markers' positions and ids."""
    import cv2

    quads = card.marker_quads_mm()
    places = np.concatenate([quads, np.zeros((*quads.shape[:2], 1))], axis=2).astype(np.float32)
    ids = number * card.MARKERS_PER_CARD + np.arange(card.MARKERS_PER_CARD, dtype=np.int32)
    return cv2.aruco.Board(list(places), marker_dictionary(), ids)


_CARD_IDS = range(card.CARD_COUNT * card.MARKERS_PER_CARD)
_ALL_IDS = (*_CARD_IDS, *sorted(card.TAGS))
_FIRST_IDS = tuple(i for i in _ALL_IDS if i in card.TAGS or i % card.MARKERS_PER_CARD % MARKER_STRIDE == 0)


def _detect_markers(image: np.ndarray, largest_window: int, factor: float) -> tuple[np.ndarray, np.ndarray]:
    """Detect marker ids (n,) and quads (n, 4, 2), px, in an image reduced by `factor`.

    A few markers of each card identify the card. The others are then searched where these predict them; if too few
    are found there, the whole image is searched again.
    """
    import cv2

    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 13 if largest_window > 23 else 23
    parameters.adaptiveThreshWinSizeMax = largest_window
    parameters.adaptiveThreshWinSizeStep = 20
    parameters.minMarkerPerimeterRate = max(0.01, SMALLEST_PERIMETER_PX * factor / max(image.shape))

    def among(ids: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray, Any]:
        quads, places, others = cv2.aruco.ArucoDetector(_dictionary(ids), parameters).detectMarkers(image)
        if places is None:
            return np.zeros(0, int), np.zeros((0, 4, 2)), others
        return np.array(ids)[places.ravel()], np.array(quads, float).reshape(-1, 4, 2), others

    ids, quads, others = among(_FIRST_IDS)
    cards = set((ids[[i not in card.TAGS for i in ids]] // card.MARKERS_PER_CARD).tolist())
    if not cards:
        return among(_ALL_IDS)[:2]
    if len(cards) == 1:
        (number,) = cards
        detector = cv2.aruco.ArucoDetector(marker_dictionary(), parameters)
        found, found_ids, _, _ = detector.refineDetectedMarkers(
            image,
            _board(number),
            list(quads[:, None].astype(np.float32)),
            ids[:, None].astype(np.int32),
            others,
        )
        if np.sum(found_ids // card.MARKERS_PER_CARD == number) >= PLAIN_CARD_MARKERS:
            return found_ids.ravel().astype(int), np.array(found, float).reshape(-1, 4, 2)
    return among(tuple(i for i in _ALL_IDS if i in card.TAGS or i // card.MARKERS_PER_CARD in cards))[:2]


def _search(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Find marker ids (n,) and quads (n, 4, 2), px: in reduced images first, at full size if these show too few."""
    best_ids, best_quads = np.zeros(0, int), np.zeros((0, 4, 2))
    for side, enough in ((FIRST_SIDE_PX, PLAIN_CARD_MARKERS), (SEARCH_SIDE_PX, MARKERS_NEEDED)):
        times = -(-max(grey.shape) // side)
        ids, quads = _detect_markers(shrunk(grey, times), 23, 1 / times)
        if len(ids) >= len(best_ids):
            best_ids, best_quads = ids, (quads + 0.5) * times - 0.5
        if len(best_ids) >= enough:
            return best_ids, best_quads
    ids, quads = _detect_markers(grey, 53, 1.0)
    return (ids, quads) if len(ids) >= len(best_ids) else (best_ids, best_quads)


# Unsharp masking that restores markers blurred by 3 px (sd), more than the detector reads: radius, px, and gain.
SHARPEN_PX, SHARPEN_GAIN = 4.0, 6.0


def _markers_when_sharpened(grey: np.ndarray) -> int:
    """Count one card's markers in the sharpened photo: many more than before mean a blurred, not a missing, card."""
    import cv2

    factor = min(1.0, SEARCH_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA).astype(np.float32)
    away = small - cv2.GaussianBlur(small, (0, 0), SHARPEN_PX * max(factor, 0.5))
    ids, _ = _detect_markers(np.clip(small + SHARPEN_GAIN * away, 0, 255).astype(np.uint8), 23, 1.0)
    numbers = ids[ids < card.CARD_COUNT * card.MARKERS_PER_CARD] // card.MARKERS_PER_CARD
    return int(np.bincount(numbers).max()) if len(numbers) else 0


def _homography(board_mm: np.ndarray, points_px: np.ndarray) -> np.ndarray:
    import cv2

    matrix, _ = cv2.findHomography(board_mm, points_px, cv2.RANSAC, 3.0 + 0.002 * float(np.ptp(points_px)))
    if matrix is None:
        raise CardError("hidden", "the card's markers do not lie on one plane", "uncover the whole card")
    return matrix


def _apply(matrix: np.ndarray, xy: np.ndarray) -> np.ndarray:
    h = np.c_[xy, np.ones(len(xy))] @ matrix.T
    return np.asarray(h[:, :2] / h[:, 2:])


def _refine(grey: np.ndarray, board_to_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Refine every predicted inner corner; keep those where four squares cross."""
    import cv2

    nominal = card.corners_mm()
    guess = _apply(board_to_px, nominal)
    square_px = float(np.median(np.linalg.norm(np.diff(guess[::2], axis=0), axis=1)))
    # The window excludes the markers, whose outline begins 1.5 mm inside a white square.
    half = int(np.clip(0.11 * square_px, 3, 11))
    refined = guess.astype(np.float32).reshape(-1, 1, 2).copy()
    inside = np.all((guess > half + 2) & (guess < np.array(grey.shape[::-1]) - half - 3), axis=1)
    index = np.flatnonzero(inside)
    if len(index) == 0:
        return index, np.zeros((0, 2))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.001)
    points = cv2.cornerSubPix(
        grey, np.ascontiguousarray(refined[index]), (half, half), (-1, -1), stop
    ).reshape(-1, 2)
    moved = np.linalg.norm(points - guess[index], axis=1)
    good = _are_crossings(grey, board_to_px, nominal[index], points - guess[index])
    # The homography misses lens distortion only: well under a tenth of a square.
    good &= moved < max(1.5, 0.1 * square_px)
    return index[good], points[good].astype(float)


def _are_crossings(
    grey: np.ndarray, board_to_px: np.ndarray, xy_mm: np.ndarray, shift_px: np.ndarray
) -> np.ndarray:
    """Test at which corners (n,) two dark and two light quadrants meet in the board's order, with enough contrast."""
    offsets = 1.1 * np.array([[-1, -1], [1, -1], [-1, 1], [1, 1]])
    around = (xy_mm[:, None, :] + offsets).reshape(-1, 2)
    at = _apply(board_to_px, around).reshape(-1, 4, 2) + shift_px[:, None, :]
    columns, rows = np.moveaxis(np.rint(at).astype(int), -1, 0)
    v = grey[np.clip(rows, 0, grey.shape[0] - 1), np.clip(columns, 0, grey.shape[1] - 1)].astype(float)
    # Square (row, column) is black where their sum is even; the quadrant up-left of a corner is (row-1, column-1).
    black_up_left = np.rint(xy_mm / card.SQUARE_MM).astype(int).sum(axis=1) % 2 == 0
    v = np.where(black_up_left[:, None], v, v[:, [1, 0, 3, 2]])
    dark, light = v[:, [0, 3]], v[:, [1, 2]]
    contrast = light.min(axis=1) - dark.max(axis=1)
    spread = np.maximum(np.ptp(light, axis=1), np.ptp(dark, axis=1))
    return np.asarray((contrast > 12) & (spread < 0.8 * (light.mean(axis=1) - dark.mean(axis=1))))


def _blur(grey: np.ndarray, board_to_px: np.ndarray, corner_ids: np.ndarray) -> float:
    """Estimate the Gaussian sd of the edges between squares, px: contrast / (steepest slope x sqrt(2 pi)).

    Of the edges along and across the card the more blurred direction counts: camera shake has one direction.
    """
    import cv2

    from calibration.light import linear_table

    if len(corner_ids) == 0:
        return float("inf")
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
    low = np.maximum(np.floor(px.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(px.reshape(-1, 2).max(axis=0)).astype(int) + 3
    part = np.ascontiguousarray(grey[low[1] : high[1], low[0] : high[0]])
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
        return float("inf")
    # Half of each corner's profiles run one way, half the other.
    ways = blur_px.reshape(len(corner_ids), 2, -1)
    return max(float(np.nanmedian(way)) for way in (ways[:, 0], ways[:, 1]) if np.isfinite(way).any())

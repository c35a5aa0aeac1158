"""Finding the card in a photo: its number, its inner corners to a twentieth of a pixel, and the blur there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from calibration import card
from calibration.errors import CalibrationError
from calibration.markers import marker_dictionary
from calibration.pixels import shrunk

# Longest side, px, of the reduced picture in which markers are looked for first. A marker cell (9/7 mm) then
# still has about 3 px when the card fills half the photo; measured on rendered photos, no marker was lost
# against full size and the search took a third of the time.
SEARCH_SIDE_PX = 2100
# Longest side, px, of a first look, a fifth of a phone's 4032; taken where it shows this many of the 21. At 1010
# and 1350 px the search took a tenth and two fifths longer; on 31 photos of 12 megapixels it finds the same corners to
# 0.001 px as at 1010; on 26 as many markers, on three more, on two fewer.
FIRST_SIDE_PX, PLAIN_CARD_MARKERS = 810, 14
# Fewer markers than this of the 21: the card is taken as hidden. A third of the card leaves its tilt, and so
# the scale along the shaft, to chance.
MARKERS_NEEDED = 8
# Looking a marker up takes as long as there are markers to compare it with (1000 in the dictionary: nine tenths of
# the search). Every so many markers of each card are looked for first; a card of which none of these three shows
# is looked for among all. With five of each card the search took 1.3 times as long and found the same [measured].
EVERY_MARKER = 7
# A second card counts only with this many markers: a stray decode happens about once in some ten photos.
MARKERS_OF_ANOTHER_CARD = 3
CORNERS_NEEDED = 8
# Blur (Gaussian sd) over this share of a square, or this many px, and corners are lost or biased: of the
# corners at 5 px/mm all are found at 1.2 px, two thirds at 2 px, 2 % at 3 px (project's vision notes).
BLUR_LIMIT_PX = 3.0
# Outlines shorter than this are no marker that could be read: 36 mm round it at 1.1 px/mm.
SMALLEST_PERIMETER_PX = 40.0

# Below this many px a millimetre a 2.5 mm tie is 4 px wide: its edges no longer stand apart.
SCALE_NEEDED_PX_PER_MM = 1.6


@dataclass(frozen=True)
class CardSighting:
    """The card as seen in one photo.

    Attributes
    ----------
    number : int
        Which card it is, 0 to 46.
    corner_ids : ndarray of int, shape (n,)
    corners_px : ndarray of shape (n, 2)
        Refined inner corners on the photo that was looked at, px.
    markers : int
        How many of the 21 markers were read.
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
    """No usable card; `kind` is one of "none", "hidden", "several", "blurred", "small"."""

    def __init__(self, kind: str, message: str, remedy: str) -> None:
        super().__init__(message, remedy)
        self.kind = kind


def find_card(grey: np.ndarray) -> CardSighting:
    """Find the one card in a photo.

    Parameters
    ----------
    grey : ndarray of uint8, shape (h, w)
        The photo, whichever way up.

    Returns
    -------
    CardSighting

    Raises
    ------
    CardError
        If there is no card, several, too little of one, or one too blurred or too small.
    """
    ids, quads = _detect(grey)
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
            "small", f"the card shows only {size_px / card.MARKER_MM:.1f} px a millimetre", "go closer"
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
        raise CardError("small", f"the card shows only {px_per_mm:.1f} px a millimetre", "go closer")
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
    """The markers' dictionary with some of its markers only; an answer is then a place in `ids`."""
    import cv2

    whole = marker_dictionary()
    return cv2.aruco.Dictionary(
        np.ascontiguousarray(whole.bytesList[list(ids)]), whole.markerSize, whole.maxCorrectionBits
    )


@lru_cache(maxsize=8)
def _board(number: int) -> Any:
    """Where the markers of one card lie on it."""
    import cv2

    quads = card.marker_quads_mm()
    places = np.concatenate([quads, np.zeros((*quads.shape[:2], 1))], axis=2).astype(np.float32)
    ids = number * card.MARKERS_PER_CARD + np.arange(card.MARKERS_PER_CARD, dtype=np.int32)
    return cv2.aruco.Board(list(places), marker_dictionary(), ids)


_CARD_IDS = range(card.CARD_COUNT * card.MARKERS_PER_CARD)
_ALL_IDS = (*_CARD_IDS, *sorted(card.TAGS))
_SOME_IDS = tuple(i for i in _ALL_IDS if i in card.TAGS or i % card.MARKERS_PER_CARD % EVERY_MARKER == 0)


def _look(image: np.ndarray, largest_window: int, factor: float) -> tuple[np.ndarray, np.ndarray]:
    """Marker ids (n,) and quads (n, 4, 2) of a picture shrunk by `factor`, in its own px.

    Which card it is comes from a few markers of each. Of a card seen plainly the others are looked up where these say
    that they lie; else the whole picture is gone through again.
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

    ids, quads, others = among(_SOME_IDS)
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


def _detect(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Marker ids (n,) and quads (n, 4, 2) in px; at reduced size first, at full size if that finds too few."""
    best_ids, best_quads = np.zeros(0, int), np.zeros((0, 4, 2))
    for side, enough in ((FIRST_SIDE_PX, PLAIN_CARD_MARKERS), (SEARCH_SIDE_PX, MARKERS_NEEDED)):
        times = -(-max(grey.shape) // side)
        ids, quads = _look(shrunk(grey, times), 23, 1 / times)
        if len(ids) >= len(best_ids):
            best_ids, best_quads = ids, (quads + 0.5) * times - 0.5
        if len(best_ids) >= enough:
            return best_ids, best_quads
    ids, quads = _look(grey, 53, 1.0)
    return (ids, quads) if len(ids) >= len(best_ids) else (best_ids, best_quads)


# Unsharp masking that brings back markers blurred by 3 px (sd), beyond what the detector reads: radius, px.
SHARPEN_PX, SHARPEN_TIMES = 4.0, 6.0


def _markers_when_sharpened(grey: np.ndarray) -> int:
    """How many markers of one card show in the sharpened photo: many more, and the card is blurred, not missing."""
    import cv2

    factor = min(1.0, SEARCH_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA).astype(np.float32)
    away = small - cv2.GaussianBlur(small, (0, 0), SHARPEN_PX * max(factor, 0.5))
    ids, _ = _look(np.clip(small + SHARPEN_TIMES * away, 0, 255).astype(np.uint8), 23, 1.0)
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
    return h[:, :2] / h[:, 2:]


def _refine(grey: np.ndarray, board_to_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Refine every predicted inner corner; keep those that look like the crossing of four squares."""
    import cv2

    nominal = card.corners_mm()
    guess = _apply(board_to_px, nominal)
    square_px = float(np.median(np.linalg.norm(np.diff(guess[::2], axis=0), axis=1)))
    # The window stays clear of the markers, whose outline begins 1.5 mm inside a white square.
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
    """At which corners (n,) two dark and two light quadrants meet, in the board's own order, with real contrast."""
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
    """Gaussian sd of the edges between squares, px: contrast over the steepest slope, by sqrt(2 pi).

    Of the edges along the card and of those across it the more blurred ones: a hand that moves smears one direction.
    """
    import cv2

    from calibration.light import linear_table

    if len(corner_ids) == 0:
        return float("inf")
    # Profiles across the edges that start at each corner, from 1.3 mm before to 1.3 mm behind, where the squares
    # are plain (markers begin 1.5 mm inside).
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

"""Detection of markers in a photo: ids and outlines, in reduced images first."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from calibration import card
from calibration.grey import FROM_ROWS, Grey
from calibration.markers import marker_dictionary
from calibration.pixels import shrunk
from calibration.read_markers import read_markers

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
# Shorter outlines cannot be a readable marker: its perimeter is 36 mm, at 1.1 px/mm.
SMALLEST_PERIMETER_PX = 40.0
# Unsharp masking that restores markers blurred by 3 px (sd), more than the detector reads: radius, px, and gain.
SHARPEN_PX, SHARPEN_GAIN = 4.0, 6.0


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

    parameters = _parameters(image, largest_window, factor)

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
        found = _others_of_card(next(iter(cards)), image, parameters, (ids, quads, others))
        if found is not None:
            return found
    return among(tuple(i for i in _ALL_IDS if i in card.TAGS or i // card.MARKERS_PER_CARD in cards))[:2]


def _others_of_card(
    number: int, image: np.ndarray, parameters: Any, seen: tuple[np.ndarray, np.ndarray, Any]
) -> tuple[np.ndarray, np.ndarray] | None:
    """Find a card's other markers where some predict them.

    Parameters
    ----------
    number : int
        Of the card.
    image : ndarray of uint8, shape (h, w)
    parameters : cv2.aruco.DetectorParameters
    seen : tuple
        Ids (n,) and quads (n, 4, 2) of some markers, and the outlines in which none was read.

    Returns
    -------
    ids, quads
        None where they are too few.
    """
    import cv2

    ids, quads, others = seen
    found, found_ids, _, _ = cv2.aruco.ArucoDetector(marker_dictionary(), parameters).refineDetectedMarkers(
        image,
        _board(number),
        list(quads[:, None].astype(np.float32)),
        ids[:, None].astype(np.int32),
        others,
    )
    if np.sum(found_ids // card.MARKERS_PER_CARD == number) < PLAIN_CARD_MARKERS:
        return None
    return found_ids.ravel().astype(int), np.array(found, float).reshape(-1, 4, 2)


def _parameters(image: np.ndarray, largest_window: int, factor: float) -> Any:
    """Set OpenCV's detector for an image reduced by `factor`."""
    import cv2

    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 13 if largest_window > 23 else 23
    parameters.adaptiveThreshWinSizeMax = largest_window
    parameters.adaptiveThreshWinSizeStep = 20
    parameters.minMarkerPerimeterRate = max(0.01, SMALLEST_PERIMETER_PX * factor / max(image.shape))
    return parameters


def _plain_card(image: np.ndarray, factor: float) -> tuple[np.ndarray, np.ndarray] | None:
    """Find the markers of a card that is plain to see, as `_detect_markers` does; None where it is not.

    All outlines are read at once, see `read_markers`, where OpenCV compares them with 148 markers one by one.
    """
    import cv2

    parameters = _parameters(image, 23, factor)
    # Of a tag OpenCV lists its white square's outline, and the marker's within only to itself.
    tags = tuple(sorted(card.TAGS))
    of_tags, tag_places, others = cv2.aruco.ArucoDetector(_dictionary(tags), parameters).detectMarkers(image)
    outlines = np.array(others, np.float32).reshape(-1, 4, 2)
    ids, quads, read = read_markers(image, outlines.astype(float))
    ours = np.isin(ids, _CARD_IDS)
    if most_of_one_card(ids) < MARKERS_NEEDED or len(set((ids[ours] // card.MARKERS_PER_CARD).tolist())) > 1:
        return None
    first = ours & np.isin(ids, _FIRST_IDS)
    if not first.any():
        return None
    if tag_places is not None:
        ids = np.concatenate([ids[first], np.array(tags)[tag_places.ravel()]])
        quads = np.concatenate([quads[first], np.array(of_tags, float).reshape(-1, 4, 2)])
    else:
        ids, quads = ids[first], quads[first]
    left = list(np.delete(outlines, read[first], axis=0)[:, None])
    return _others_of_card(int(ids[0]) // card.MARKERS_PER_CARD, image, parameters, (ids, quads, left))


MOST_SEARCHED_PIXELS = 60_000_000
"""A grainy photo without a card takes 9 bytes a pixel to be searched, 0.9 GB at 101 megapixels [measured]: larger ones
are searched at half their width and height, which still is more than most phones' whole photo. Corners are refined
at full size."""


def find_markers(photo: Grey) -> tuple[np.ndarray, np.ndarray]:
    """Find marker ids (n,) and quads (n, 4, 2), px: in reduced images first, at full size if these show too few."""
    if is_large(photo):
        times = _times(photo, FIRST_SIDE_PX)
        plain = _plain_card(photo.coarse(times), 1 / times)
        if plain is not None:
            return plain[0], (plain[1] + 0.5) * times - 0.5
    best_ids, best_quads = np.zeros(0, int), np.zeros((0, 4, 2))
    for side, enough in ((FIRST_SIDE_PX, PLAIN_CARD_MARKERS), (SEARCH_SIDE_PX, MARKERS_NEEDED)):
        times = _times(photo, side)
        ids, quads = _detect_markers(shrunk(photo.whole, times), 23, 1 / times)
        if len(ids) >= len(best_ids):
            best_ids, best_quads = ids, (quads + 0.5) * times - 0.5
        if len(best_ids) >= enough:
            return best_ids, best_quads
    times = 1 if photo.whole.size <= MOST_SEARCHED_PIXELS else 2
    ids, quads = _detect_markers(shrunk(photo.whole, times), 53, 1 / times)
    quads = (quads + 0.5) * times - 0.5
    return (ids, quads) if len(ids) >= len(best_ids) else (best_ids, best_quads)


def is_large(photo: Grey) -> bool:
    """Whether a photo is so large that its card is looked for in some of its rows, and read all at once."""
    return _times(photo, FIRST_SIDE_PX) >= FROM_ROWS


def _times(photo: Grey, side_px: int) -> int:
    """Whole factor by which a photo's longer side becomes so long at the most."""
    return -(-max(photo.size) // side_px)


def find_when_sharpened(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Find marker ids (n,) and quads (n, 4, 2), px, of a card that blur hides from `find_markers`, or small cells."""
    import cv2

    factor = min(1.0, SEARCH_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA).astype(np.float32)
    away = small - cv2.GaussianBlur(small, (0, 0), SHARPEN_PX * max(factor, 0.5))
    ids, quads = _detect_markers(np.clip(small + SHARPEN_GAIN * away, 0, 255).astype(np.uint8), 23, 1.0)
    return ids, (quads + 0.5) / factor - 0.5


def most_of_one_card(ids: np.ndarray) -> int:
    """Count the markers of the card that has the most."""
    numbers = ids[ids < card.CARD_COUNT * card.MARKERS_PER_CARD] // card.MARKERS_PER_CARD
    return int(np.bincount(numbers).max()) if len(numbers) else 0

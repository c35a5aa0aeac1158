"""Brightness of a photo, converted only where the search for the card looks.

The whole photo in grey takes a ninth of a reading's time at 12 megapixels, and a third of the photo's memory.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from calibration.pixels import shrunk

# Rows of pixels averaged in a step of the coarse picture, evenly spread (of the columns all), where a step has so many
# rows or more, as in a phone's photo of 12 megapixels.
ROWS_AVERAGED, FROM_ROWS = 2, 4


class Grey:
    """The brightness of a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3) or (h, w)
        R, G, B, or grey already.
    """

    def __init__(self, pixels: np.ndarray) -> None:
        self._pixels = pixels

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, px."""
        return self._pixels.shape[1], self._pixels.shape[0]

    @cached_property
    def whole(self) -> np.ndarray:
        """All of it, uint8, shape (h, w)."""
        return _grey(self._pixels)

    def part(self, low_px: np.ndarray, high_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Cut out what lies between two corners.

        Parameters
        ----------
        low_px, high_px : ndarray of shape (2,)
            x and y; moved into the photo.

        Returns
        -------
        part : ndarray of uint8, shape (rows, columns)
        origin_px : ndarray of int, shape (2,)
            Its first pixel, x and y.
        """
        size = np.array(self.size)
        low = np.clip(np.floor(low_px).astype(int), 0, size - 1)
        high = np.clip(np.ceil(high_px).astype(int), low + 1, size)
        return _grey(np.ascontiguousarray(self._pixels[low[1] : high[1], low[0] : high[0]])), low

    def coarse(self, times: int) -> np.ndarray:
        """Reduce it by a whole factor, from some rows of pixels only; to find markers, not to measure them."""
        import cv2

        rows = self.size[1] // times
        if times < FROM_ROWS or rows == 0:
            return shrunk(self.whole, times)
        first, second = (int((k + 0.5) * times / ROWS_AVERAGED) for k in range(ROWS_AVERAGED))
        one, other = (_grey(self._pixels[k::times][:rows]) for k in (first, second))
        return shrunk(cv2.addWeighted(one, 0.5, other, 0.5, 0.0), times, 1)


def _grey(pixels: np.ndarray) -> np.ndarray:
    import cv2

    return pixels if pixels.ndim == 2 else np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY))

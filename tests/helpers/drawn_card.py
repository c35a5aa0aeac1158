"""Cards drawn by OpenCV's own board through a known homography, for tests of finding them."""

from __future__ import annotations

import cv2
import numpy as np

from calibration import card

PX_PER_MM = 35 / 3
"""Of the flat picture: 140 px a square, 105 px a marker, 15 px a cell, so that nothing is rounded
(`generateImage` is up to half a pixel off otherwise)."""

FINER = 3
"""Samples a pixel each way; averaged over the pixel, as a sensor does."""

PAPER, INK, TABLE = 0.80, 0.04, 0.30
"""Linear light of paper, ink and table."""


def flat_card(number: int) -> np.ndarray:
    """Draw the board without its margin, 420 x 1960 px, 0 or 255."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    board = cv2.aruco.CharucoBoard((3, 14), 12.0, 9.0, dictionary, np.array(card.marker_ids(number)))
    return board.generateImage((420, 1960))


def flat_tag(marker_id: int) -> np.ndarray:
    """Draw a clip-on tag, 12 mm square with its marker in the middle."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    picture = np.full((140, 140), 255, np.uint8)
    picture[18:123, 18:123] = dictionary.generateImageMarker(marker_id, 105)
    return picture


def view_of(
    middle_px: tuple[float, float], px_per_mm: float, turn_deg: float, lean: tuple[float, float] = (0.0, 0.0)
) -> np.ndarray:
    """Homography from card mm to image px: the card's middle, its scale there, its turn and perspective.

    `lean` is by how much the scale changes over the card, across and along it (0.2: 20 % end to end).
    """
    to_middle = np.array([[1, 0, -18.0], [0, 1, -84.0], [0, 0, 1]])
    perspective = np.array([[1, 0, 0], [0, 1, 0], [lean[0] / 36, lean[1] / 168, 1]])
    c, s = px_per_mm * np.cos(np.radians(turn_deg)), px_per_mm * np.sin(np.radians(turn_deg))
    found: np.ndarray = (
        np.array([[c, -s, middle_px[0]], [s, c, middle_px[1]], [0, 0, 1]]) @ perspective @ to_middle
    )
    return found


def place(points_mm: np.ndarray, view: np.ndarray) -> np.ndarray:
    """Card points (n, 2) in the image, px, pixel centres at whole numbers."""
    h = np.c_[points_mm, np.ones(len(points_mm))] @ view.T
    found: np.ndarray = h[:, :2] / h[:, 2:]
    return found


class Drawing:
    """A table seen from above, in linear light at `FINER` samples a pixel, to lay cards on."""

    def __init__(self, width_px: int = 1200, height_px: int = 1000) -> None:
        self.width_px, self.height_px = width_px, height_px
        self.light = np.full((height_px * FINER, width_px * FINER), TABLE, np.float32)

    def _lay(
        self, picture: np.ndarray, corner_mm: tuple[float, float], margin_mm: float, view: np.ndarray
    ) -> None:
        margin = round(margin_mm * PX_PER_MM)
        sheet = np.pad(picture, margin, constant_values=255)
        # From the sheet's pixels (centres at whole numbers) to mm, and from image px to the finer samples.
        to_mm = np.array(
            [
                [1 / PX_PER_MM, 0, corner_mm[0] + (0.5 - margin) / PX_PER_MM],
                [0, 1 / PX_PER_MM, corner_mm[1] + (0.5 - margin) / PX_PER_MM],
                [0, 0, 1],
            ]
        )
        to_finer = np.array([[FINER, 0, (FINER - 1) / 2], [0, FINER, (FINER - 1) / 2], [0, 0, 1]])
        matrix = to_finer @ view @ to_mm
        size = self.light.shape[::-1]
        ink = cv2.warpPerspective(sheet.astype(np.float32) / 255, matrix, size, flags=cv2.INTER_LINEAR)
        here = cv2.warpPerspective(np.ones(sheet.shape, np.float32), matrix, size, flags=cv2.INTER_LINEAR)
        self.light = (1 - here) * self.light + here * INK + ink * (PAPER - INK)

    def lay_card(self, number: int, view: np.ndarray) -> Drawing:
        """Lay a card, its white margin included."""
        self._lay(flat_card(number), (0.0, 0.0), card.MARGIN_MM, view)
        return self

    def lay_tag(self, marker_id: int, corner_mm: tuple[float, float], view: np.ndarray) -> Drawing:
        """Lay a clip-on tag with its nearest corner at a point of the card's frame."""
        self._lay(flat_tag(marker_id), corner_mm, 0.0, view)
        return self

    def cover(self, from_mm: tuple[float, float], to_mm: tuple[float, float], view: np.ndarray) -> Drawing:
        """Hide a rectangle of the card's frame under something grey."""
        (x0, y0), (x1, y1) = from_mm, to_mm
        quad = place(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), view)
        cv2.fillConvexPoly(self.light, np.rint(quad * FINER).astype(np.int32), TABLE)
        return self

    def photo(self, blur_px: float = 0.7, noise: float = 1.5, seed: int = 1) -> np.ndarray:
        """Return the 8-bit sRGB photo: blurred in linear light, with noise (sd in code values)."""
        light = cv2.GaussianBlur(self.light, (0, 0), blur_px * FINER) if blur_px > 0 else self.light
        light = cv2.resize(light, (self.width_px, self.height_px), interpolation=cv2.INTER_AREA)
        # IEC 61966-2-1, encoding direction (from memory).
        code = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        code += np.random.default_rng(seed).normal(0, noise, code.shape)
        found: np.ndarray = np.clip(np.rint(code), 0, 255).astype(np.uint8)
        return found

"""The printed card, drawn into a photograph: by OpenCV's own board, not by the project's drawing of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# The card as it is fixed for good (README of the card): 3 x 14 squares of 12 mm, markers of 9 mm, margin 5 mm.
COLUMNS, ROWS, SQUARE_MM, MARKER_MM, MARGIN_MM = 3, 14, 12.0, 9.0, 5.0
MARKERS = 21
WIDE_MM, HIGH_MM = COLUMNS * SQUARE_MM + 2 * MARGIN_MM, ROWS * SQUARE_MM + 2 * MARGIN_MM
# Pixels per mm of the drawing: the smallest cell, 9 mm / 7, is then 26 px, finer than any photo shows it.
DRAWN_PX_PER_MM = 20
# The drawing is supersampled by this where it is laid into a photo.
_FINER = 3


@dataclass(frozen=True)
class Placed:
    """Where a card lies in a photo.

    Attributes
    ----------
    corners_px : ndarray of shape (4, 2)
        Outline's corners, px: top left, top right, bottom right, bottom left; the top is the seal's end.
    black, white : float
        Code values of ink and paper there.
    blur_px, noise : float
        Gaussian sd of the edges, px, and of the grain, code values.
    """

    corners_px: np.ndarray
    black: float
    white: float
    blur_px: float
    noise: float


def card_picture(number: int) -> np.ndarray:
    """Draw a card, grey, shape (h, w), with its arrow at the top.

    Parameters
    ----------
    number : int
        0 to 46.
    """
    import cv2

    scale = DRAWN_PX_PER_MM
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    ids = np.arange(MARKERS * number, MARKERS * (number + 1))
    board = cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_MM, MARKER_MM, words, ids)
    size = (round(COLUMNS * SQUARE_MM * scale), round(ROWS * SQUARE_MM * scale))
    card = np.full((round(HIGH_MM * scale), round(WIDE_MM * scale)), 255, np.uint8)
    margin = round(MARGIN_MM * scale)
    card[margin : margin + size[1], margin : margin + size[0]] = board.generateImage(size)
    arrow_mm = np.array([[WIDE_MM / 2, 0.8], [WIDE_MM / 2 - 2.5, 4.2], [WIDE_MM / 2 + 2.5, 4.2]])
    cv2.fillPoly(card, [np.rint(arrow_mm * scale).astype(np.int32)], 0)
    return card


def suited(pixels: np.ndarray, corners_px: np.ndarray, blur_px: float = 0.8) -> Placed:
    """Take a card's brightness and grain from the photo around it."""
    import cv2

    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    low = np.maximum(corners_px.min(axis=0).astype(int), 0)
    high = np.maximum(corners_px.max(axis=0).astype(int) + 1, low + 1)
    local = grey[low[1] : high[1], low[0] : high[0]]
    # Paper is about as bright as what is brightest around it, ink as what is darkest: within what a phone's exposure
    # leaves of white paper (120 to 240) and of black toner (14 to 60).
    white = float(np.clip(1.02 * np.percentile(local, 93), 120, 240))
    black = float(np.clip(np.percentile(local, 3) + 8, 14, 60))
    grain = float(np.clip(1.48 * np.median(np.abs(local - cv2.GaussianBlur(local, (0, 0), 1.2))), 0.5, 4))
    return Placed(corners_px, black, white, blur_px, grain)


def drawn_in(pixels: np.ndarray, card: np.ndarray, placed: Placed, rng: np.random.Generator) -> np.ndarray:
    """Draw a card into a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    card : ndarray of uint8
        As `card_picture` draws it.
    placed : Placed
    rng : Generator
        Of the grain.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)
        A copy.
    """
    import cv2

    out = pixels.copy()
    low = np.maximum(np.floor(placed.corners_px.min(axis=0)).astype(int) - 8, 0)
    high = np.minimum(np.ceil(placed.corners_px.max(axis=0)).astype(int) + 8, pixels.shape[1::-1])
    wide, tall = (int(one) for one in high - low)
    if min(wide, tall) < 2:
        return out
    inside = (placed.corners_px - low + 0.5) * _FINER - 0.5
    drawn = np.array([[0, 0], [card.shape[1], 0], card.shape[::-1], [0, card.shape[0]]], np.float32) - 0.5
    matrix = cv2.getPerspectiveTransform(drawn, inside.astype(np.float32))
    # What is made smaller is blurred first, so that no cell is lost between two pixels.
    side_px = float(np.linalg.norm(placed.corners_px[1] - placed.corners_px[0]))
    sigma = 0.35 * card.shape[1] / max(side_px * _FINER, 1.0)
    smooth = cv2.GaussianBlur(card, (0, 0), sigma) if sigma > 0.6 else card
    size = (wide * _FINER, tall * _FINER)
    fine = (
        cv2.warpPerspective(smooth, matrix, size, borderValue=255),
        cv2.warpPerspective(np.full_like(card, 255), matrix, size),
    )
    ink, cover = (
        cv2.resize(one.astype(np.float32) / 255, (wide, tall), interpolation=cv2.INTER_AREA) for one in fine
    )
    dark, bright = (placed.black / 255) ** 2.2, (placed.white / 255) ** 2.2
    light: np.ndarray = dark + ink * (bright - dark)
    if placed.blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), placed.blur_px)
        cover = cv2.GaussianBlur(cover, (0, 0), placed.blur_px)
    code = 255 * np.clip(light, 0, 1) ** (1 / 2.2) + rng.normal(0, placed.noise, light.shape)
    there = out[low[1] : high[1], low[0] : high[0]]
    mixed = there * (1 - cover[..., None]) + code[..., None] * cover[..., None]
    out[low[1] : high[1], low[0] : high[0]] = np.clip(np.rint(mixed), 0, 255).astype(np.uint8)
    return out


def somewhere(size: tuple[int, int], rng: np.random.Generator, share: tuple[float, float]) -> np.ndarray:
    """Choose where a card lies in a photo, at random: any angle, and seen up to 25 degrees from aside.

    Parameters
    ----------
    size : tuple of int
        Width and height of the photo, px.
    rng : Generator
    share : tuple of float
        Least and largest length of the card over the photo's longer side.

    Returns
    -------
    ndarray of shape (4, 2)
        As `Placed.corners_px`; the whole card lies in the photo where that is possible.
    """
    length = float(rng.uniform(*share)) * max(size)
    wide = length * WIDE_MM / HIGH_MM
    flat = np.array([[-wide, -length, 0], [wide, -length, 0], [wide, length, 0], [-wide, length, 0]]) / 2
    pan, tilt, turn = rng.uniform(-0.43, 0.43), rng.uniform(-0.43, 0.43), rng.uniform(-np.pi, np.pi)
    about_y = np.array([[np.cos(pan), 0, np.sin(pan)], [0, 1, 0], [-np.sin(pan), 0, np.cos(pan)]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    tilted = flat @ (about_z @ about_x @ about_y).T
    # A phone's main lens sees its longer side under some 65 degrees: the distance is 0.8 of that side.
    away = 0.8 * max(size)
    seen = tilted[:, :2] * away / (away + tilted[:, 2:])
    low, high = -seen.min(axis=0), np.asarray(size) - seen.max(axis=0)
    centre = np.where(high > low, rng.uniform(0, 1, 2) * (high - low) + low, (low + high) / 2)
    placed: np.ndarray = seen + centre
    return placed

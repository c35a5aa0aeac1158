"""Where the shaft lies beside the card, to a third of a millimetre in the median: the start of the joint solve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.card import BOARD_WIDTH_MM
from vision.errors import VisionError
from vision.geometry.views import FINDER_COLUMNS, FINDER_ROWS, FINDER_STEP_MM, FINDER_X0_MM, FINDER_Y0_MM
from vision.networks.run import shaft_probability
from vision.reasons import Reason

# The shaft that was found is painted over this wide before a second is looked for: seal and clamp stand out by
# a third of the radius or so.
PAINTED_TIMES, PAINTED_MM = 1.3, 4.0
# A second shaft is like the first within this share of the width, and as near the card within so many mm: a
# person lays the card within a finger's breadth of the shaft that is meant.
LIKE_SHARE, AS_NEAR_MM = 0.2, 15.0
# What was found may be wider or narrower than stated by this share and these mm: the finder's places are 1.6 mm apart,
# a card 10 mm off at 200 mm makes a twentieth, and over 102 photos widths were at most 5.4 mm and a seventh too large.
# Beyond it edges are looked for where there are none, and something else may pass for them.
WIDTH_SHARE, WIDTH_MM = 0.15, 2.0
# Of what it takes for a shaft the network is this sure, in the mean over its places: 0.956 and more of the shafts in
# 130 photos, 0.89 where there is none and it picks what is most like one.
SURE = 0.92


@dataclass(frozen=True)
class ShaftGuess:
    """The shaft in the card's plane.

    Attributes
    ----------
    x_mm, slope : float
        Axis: x = x_mm + slope (y - 84 mm) in card coordinates.
    y_low_mm, y_high_mm : float
        Extent of the exposed part along the card.
    width_mm : float
        Median width of the exposed part.
    """

    x_mm: float
    slope: float
    y_low_mm: float
    y_high_mm: float
    width_mm: float


class ShaftNotFound(VisionError):
    """No shaft, or more than one, beside the card."""

    def __init__(self, reason: Reason, message: str) -> None:
        super().__init__(message, reason.advice)
        self.reason = reason


def find_shaft(view: np.ndarray, diameter_mm: float) -> ShaftGuess:
    """Find the exposed shaft in the finder view.

    Parameters
    ----------
    view : ndarray of uint8, shape (216, 128, 3)
    diameter_mm : float
        Declared diameter.

    Raises
    ------
    ShaftNotFound
        None, two side by side, or one that looks far from its stated width.
    """
    guess = _first_shaft(view, diameter_mm)
    if abs(guess.width_mm - diameter_mm) > WIDTH_SHARE * diameter_mm + WIDTH_MM:
        raise ShaftNotFound(
            Reason.SCALE_CONFLICT,
            f"beside the card the shaft looks {guess.width_mm:.0f} mm wide, but {diameter_mm:.0f} mm are stated",
        )
    return guess


def check_unambiguous(view: np.ndarray, guess: ShaftGuess, diameter_mm: float) -> None:
    """Make sure that no other shaft like the one found lies as near the card.

    Parameters
    ----------
    view, diameter_mm
        As in `find_shaft`.
    guess : ShaftGuess
        Which it found.

    Raises
    ------
    ShaftNotFound
        Where one does.
    """
    twin = _other_side(view, guess, diameter_mm)
    if twin is not None and _as_near(guess, twin):
        raise ShaftNotFound(Reason.TWO_SHAFTS, "the card lies between two shafts that fit it alike")


def _other_side(view: np.ndarray, first: ShaftGuess, diameter_mm: float) -> ShaftGuess | None:
    """What the network finds once the first shaft is painted over."""
    y = FINDER_Y0_MM + FINDER_STEP_MM * (np.arange(FINDER_ROWS) + 0.5)
    x = FINDER_X0_MM + FINDER_STEP_MM * (np.arange(FINDER_COLUMNS) + 0.5)
    axis = first.x_mm + first.slope * (y - 84.0)
    reach = PAINTED_TIMES * max(first.width_mm, diameter_mm) / 2 + PAINTED_MM
    rest = view.copy()
    rest[np.abs(x[None, :] - axis[:, None]) < reach] = np.median(view.reshape(-1, 3), axis=0)
    try:
        return _first_shaft(rest, diameter_mm)
    except ShaftNotFound:
        return None


def _as_near(first: ShaftGuess, second: ShaftGuess) -> bool:
    """Whether the second is a shaft like the first, as far from the card on its other side."""
    middle = BOARD_WIDTH_MM / 2
    a, b = first.x_mm - middle, second.x_mm - middle
    alike = abs(second.width_mm - first.width_mm) < LIKE_SHARE * first.width_mm
    return a * b < 0 and alike and abs(abs(a) - abs(b)) < AS_NEAR_MM


def _first_shaft(view: np.ndarray, diameter_mm: float) -> ShaftGuess:
    import cv2

    whole = shaft_probability(view, diameter_mm)
    mask = (whole > 0.5).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was found beside the card")
    areas = stats[1:, cv2.CC_STAT_AREA] * FINDER_STEP_MM**2
    order = np.argsort(areas)[::-1]
    lengths = stats[1:, cv2.CC_STAT_HEIGHT] * FINDER_STEP_MM
    best = int(order[0])
    # Shorter than 12 mm: no suspension's exposed shaft (trade figures begin at some 40 mm), but a reflection.
    if lengths[best] < 12.0:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was found beside the card")
    region = labels == best + 1
    if whole[region].mean() < SURE:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was surely seen beside the card")
    guess = _fit(np.where(region, whole, 0.0))
    # Of the shaft's own broken pieces (a clamp's shadow, a finger) each lies on the same axis; a piece of like
    # size well beside it is a second shaft.
    for other in order[1:]:
        if areas[other] < 0.4 * areas[best]:
            break
        piece = _fit(np.where(labels == other + 1, whole, 0.0))
        if abs(piece.x_mm - guess.x_mm) > diameter_mm:
            raise ShaftNotFound(Reason.TWO_SHAFTS, "two shafts fit beside the card")
        guess = _fit(np.where(region | (labels == other + 1), whole, 0.0))
    return guess


def _fit(weight: np.ndarray) -> ShaftGuess:
    """A line through the row centres of a mask of probabilities, reweighted against outliers."""
    rows = np.flatnonzero(weight.max(axis=1) > 0.5)
    x = FINDER_X0_MM + FINDER_STEP_MM * (np.arange(weight.shape[1]) + 0.5)
    y = FINDER_Y0_MM + FINDER_STEP_MM * (rows + 0.5)
    mass = weight[rows].sum(axis=1)
    centre = weight[rows] @ x / mass
    width = mass * FINDER_STEP_MM
    usual = np.median(width)
    w = np.where(np.abs(width - usual) < 0.25 * usual, 1.0, 0.1)
    line = np.zeros(2)
    for _ in range(8):
        A = np.c_[np.ones_like(y), y - 84.0]
        line = np.linalg.lstsq(A * w[:, None], centre * w, rcond=None)[0]
        off = np.abs(centre - A @ line)
        w = np.where(np.abs(width - usual) < 0.25 * usual, 1.0, 0.1) / np.maximum(off, 0.4)
    return ShaftGuess(float(line[0]), float(line[1]), float(y[0]), float(y[-1]), float(usual))

"""Initial position of the shaft beside the card, good to 0.3 mm in the median, from the shaft segmentation."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.card import BOARD_WIDTH_MM
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM
from vision.errors import VisionError
from vision.geometry.sampling import median_colour
from vision.geometry.views import FINDER_STEP_MM, FinderView
from vision.networks.run import shaft_probability
from vision.reasons import Reason

# Width masked out before a second shaft is searched for, in widths of the first, and mm beyond it on either side: seal
# and clamp stand out by a third of the radius or so.
MASK_WIDTH_FACTOR, MASK_MARGIN_MM = 1.3, 4.0
# A second shaft is an alternative if its width is within this share of the first one's and its distance from the card
# within these mm: the card lies within a finger's breadth of the shaft that is meant (no source).
SIMILAR_WIDTH_SHARE, SIMILAR_DISTANCE_MM = 0.2, 15.0
# Of two alternatives, each as wide as a fork's tube, the card lies beside the one whose nearer edge is about so far
# from the card's, mm, and which is about so many times as wide as stated: 144 forks have 14.9 mm (sd 3; hands lay a
# card twice as freely as those who drew these) and 1.02 (sd 0.045). Another leg is farther off, narrower because it
# stands behind, or covered by the card. The photo is read where the odds are 20 to 1.
FORK_FROM_MM, GAP_MM, GAP_SD_MM, WIDTH_RATIO, WIDTH_RATIO_SD, CLEAR_ODDS = 30.0, 15.0, 6.0, 1.02, 0.045, 20.0
SECOND_SHAFT_REMARK = (
    "Two shafts are in the photo: the one that the card lies beside was read. Check on the overlay that it is the one "
    "that is meant, or lay the card on its outer side."
)
# Tolerance between found and declared width, a share and mm: pixels of 1.6 mm; a card 10 mm off at 200 mm makes 5 %;
# the largest excess over 102 photos was 5.4 mm, or a seventh.
WIDTH_TOLERANCE_SHARE, WIDTH_TOLERANCE_MM = 0.15, 2.0
# Least mean probability over the segmented shaft: 0.956 and more of the shafts in 130 photos, 0.89 where there is none.
MIN_MEAN_PROBABILITY = 0.92
# Shortest exposed shaft, mm: no suspension's (trade figures begin at some 40 mm), but a reflection.
MIN_LENGTH_MM = 12.0
# A further region counts as part of the shaft, or as a second one, from this share of the largest region's area on.
MIN_AREA_SHARE = 0.4
# Rows of a width this far from the median one enter the line fit with a tenth of the weight (seal, clamp, shadow); no
# source.
USUAL_WIDTH_SHARE = 0.25
# A shaft that is seen in so many of the last rows of the view goes on beyond it.
AT_END_ROWS = 2


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
    cut : tuple of two bool
        Whether the view ends before the shaft does: at its first rows, at its last.
    """

    x_mm: float
    slope: float
    y_low_mm: float
    y_high_mm: float
    width_mm: float
    cut: tuple[bool, bool] = (False, False)


class ShaftNotFound(VisionError):
    """Raised where no shaft, or more than one, was found beside the card."""

    def __init__(self, reason: Reason, message: str) -> None:
        super().__init__(message, reason.advice)
        self.reason = reason


def find_shaft(view: FinderView, diameter_mm: float) -> ShaftGuess:
    """Find the exposed shaft in the finder view.

    Parameters
    ----------
    view : FinderView
    diameter_mm : float
        Declared diameter.

    Raises
    ------
    ShaftNotFound
        None, two side by side, or one whose width is far from the declared one.
    """
    guess = _first_shaft(view, diameter_mm)
    if abs(guess.width_mm - diameter_mm) > WIDTH_TOLERANCE_SHARE * diameter_mm + WIDTH_TOLERANCE_MM:
        raise ShaftNotFound(
            Reason.SCALE_CONFLICT,
            f"beside the card the shaft appears {guess.width_mm:.0f} mm wide, but {diameter_mm:.0f} mm was given",
        )
    return guess


def check_unambiguous(view: FinderView, guess: ShaftGuess, diameter_mm: float) -> str | None:
    """Make sure that no similar shaft lies as near to the card on its other side.

    Parameters
    ----------
    view, diameter_mm
        As in `find_shaft`.
    guess : ShaftGuess
        Result of `find_shaft`.

    Returns
    -------
    str or None
        A remark where there is one that is clearly not meant.

    Raises
    ------
    ShaftNotFound
        Where there is one that may be meant.
    """
    second = _second_shaft(view, guess, diameter_mm)
    if second is None or not _ambiguous(guess, second):
        return None
    if diameter_mm < FORK_FROM_MM or odds_beside_card(guess, second, diameter_mm) < CLEAR_ODDS:
        raise ShaftNotFound(Reason.TWO_SHAFTS, "the card lies between two shafts of similar width")
    return SECOND_SHAFT_REMARK


def odds_beside_card(first: ShaftGuess, second: ShaftGuess, diameter_mm: float) -> float:
    """Odds that the card was laid beside the first of two shafts rather than beside the second.

    Parameters
    ----------
    first, second : ShaftGuess
    diameter_mm : float
        Declared.
    """

    def misfit(one: ShaftGuess) -> float:
        gap_mm = abs(one.x_mm - BOARD_WIDTH_MM / 2) - 0.5 * (BOARD_WIDTH_MM + one.width_mm)
        ratio = one.width_mm / diameter_mm
        return ((gap_mm - GAP_MM) / GAP_SD_MM) ** 2 + ((ratio - WIDTH_RATIO) / WIDTH_RATIO_SD) ** 2

    return float(np.exp(0.5 * (misfit(second) - misfit(first))))


def _second_shaft(view: FinderView, first: ShaftGuess, diameter_mm: float) -> ShaftGuess | None:
    """Search again with the first shaft masked out."""
    axis = first.x_mm + first.slope * (view.y_mm() - S_ORIGIN_ON_CARD_MM)
    reach = MASK_WIDTH_FACTOR * max(first.width_mm, diameter_mm) / 2 + MASK_MARGIN_MM
    rest = view.image.copy()
    beside = np.abs(view.x_mm()[None, :] - axis[:, None]) < reach
    rest[beside] = median_colour(view.image.reshape(-1, 3))
    try:
        return _first_shaft(replace(view, image=rest), diameter_mm)
    except ShaftNotFound:
        return None


def _ambiguous(first: ShaftGuess, second: ShaftGuess) -> bool:
    """Whether the second shaft is as wide as the first and as far from the card, on its other side."""
    middle = BOARD_WIDTH_MM / 2
    a, b = first.x_mm - middle, second.x_mm - middle
    alike = abs(second.width_mm - first.width_mm) < SIMILAR_WIDTH_SHARE * first.width_mm
    return a * b < 0 and alike and abs(abs(a) - abs(b)) < SIMILAR_DISTANCE_MM


def _first_shaft(view: FinderView, diameter_mm: float) -> ShaftGuess:
    import cv2

    whole = shaft_probability(view.image, diameter_mm)
    mask = (whole > 0.5).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was found beside the card")
    areas = stats[1:, cv2.CC_STAT_AREA] * FINDER_STEP_MM**2
    order = np.argsort(areas)[::-1]
    lengths = stats[1:, cv2.CC_STAT_HEIGHT] * FINDER_STEP_MM
    best = int(order[0])
    if lengths[best] < MIN_LENGTH_MM:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was found beside the card")
    region = labels == best + 1
    if whole[region].mean() < MIN_MEAN_PROBABILITY:
        raise ShaftNotFound(Reason.NO_SHAFT, "no shaft was clearly seen beside the card")
    guess = _fit(np.where(region, whole, 0.0), view)
    # Pieces of the shaft itself, parted by a shadow or a finger, lie on one axis; a piece of similar size well beside
    # it is a second shaft.
    for other in order[1:]:
        if areas[other] < MIN_AREA_SHARE * areas[best]:
            break
        piece = _fit(np.where(labels == other + 1, whole, 0.0), view)
        if abs(piece.x_mm - guess.x_mm) > diameter_mm:
            raise ShaftNotFound(Reason.TWO_SHAFTS, "two shafts fit beside the card")
        guess = _fit(np.where(region | (labels == other + 1), whole, 0.0), view)
    return guess


def _fit(weight: np.ndarray, view: FinderView) -> ShaftGuess:
    """Fit a line through the row centres of a mask of probabilities, reweighted against outliers."""
    rows = np.flatnonzero(weight.max(axis=1) > 0.5)
    x, y = view.x_mm(), view.y_mm()[rows]
    mass = weight[rows].sum(axis=1)
    centre = weight[rows] @ x / mass
    width = mass * FINDER_STEP_MM
    usual = np.median(width)
    w = np.where(np.abs(width - usual) < USUAL_WIDTH_SHARE * usual, 1.0, 0.1)
    line = np.zeros(2)
    for _ in range(8):
        A = np.c_[np.ones_like(y), y - S_ORIGIN_ON_CARD_MM]
        line = np.linalg.lstsq(A * w[:, None], centre * w, rcond=None)[0]
        off = np.abs(centre - A @ line)
        w = np.where(np.abs(width - usual) < USUAL_WIDTH_SHARE * usual, 1.0, 0.1) / np.maximum(off, 0.4)
    cut = bool(rows[0] < AT_END_ROWS), bool(rows[-1] >= len(weight) - AT_END_ROWS)
    return ShaftGuess(float(line[0]), float(line[1]), float(y[0]), float(y[-1]), float(usual), cut)

"""The view along the shaft: card pose, shaft and silhouettes found in a photo, straightened and classified."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from calibration.find_card import CardSighting
from calibration.pose import card_pose
from vision.adjustment.aspect_mixture import with_aspect_prior
from vision.adjustment.bend_mixture import with_bend_prior
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM, Observations, card_depth_sd_mm
from vision.adjustment.parameters import AX, LOGF
from vision.adjustment.solve import Solution, initial_theta
from vision.geometry.views import (
    READER_COLUMNS,
    READER_ROWS,
    READER_STEP_MM,
    ReaderFrame,
    reader_view,
    rows_covering,
    sampled_rows,
    view_length_mm,
)
from vision.networks.classes import PartMap, over_view
from vision.networks.run import FIRST_PARTS, ROWS_MULTIPLE, part_probabilities
from vision.reading import Layout
from vision.reasons import Reason
from vision.request import Request
from vision.rims.far_end import LONGEST_CLAMP_MM
from vision.shaft.beside_card import reaches_farther, shaft_beside_card
from vision.shaft.find import ShaftGuess, ShaftNotFound, check_unambiguous
from vision.shaft.fit import BEYOND_SHAFT_MM, ShaftFit, fit_shaft
from vision.shaft.own_focal import ran_away
from vision.shaft.photo_lines import with_soft_edges

# Lateral offsets, radii, at which the silhouettes are searched until they are found: between coils the detection errs
# by as much (with 0 alone one blurred photo was read in three of four orientations).
ASIDE_U = (0.0, 0.15, -0.15)
# Logarithm of the focal length up to which a view made with another one shows the same: what the rims' curves leave
# open is 0.04 to 0.1. A view is made anew twice at the most; the second time hardly any is.
SAME_VIEW_FOCAL, MOST_VIEWS_AGAIN = 0.05, 2


@dataclass(frozen=True)
class ShaftView:
    """The shaft as found, and the view along it.

    Attributes
    ----------
    guess : ShaftGuess
        From the card's plane.
    fit : ShaftFit
    frame : ReaderFrame
        Of the view.
    view : ndarray of uint8, shape (rows, columns, 3)
        Black where it was not sampled.
    classes : ndarray of shape (7, rows, columns)
        Class probabilities.
    """

    guess: ShaftGuess
    fit: ShaftFit
    frame: ReaderFrame
    view: np.ndarray
    classes: np.ndarray

    @property
    def parts(self) -> PartMap:
        """The class probabilities in their frame."""
        return PartMap(self.classes, self.frame)

    @property
    def span_mm(self) -> tuple[float, float]:
        """First and last position along the axis at which the shaft was seen, mm."""
        return _span_mm(self.guess)


def find_shaft_view(
    pixels: np.ndarray, request: Request, sighting: CardSighting, than: ShaftGuess | None = None
) -> tuple[ShaftView, Callable[[], str | None]]:
    """Find the shaft beside the card and classify the view along it.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    request : Request
    sighting : CardSighting
    than : ShaftGuess, optional
        The shaft is then searched in a longer view than this was found in, and only if that shows more of it.

    Returns
    -------
    ShaftView
    callable
        Checks for a second shaft: raises `ShaftNotFound`, or returns a remark.

    Raises
    ------
    ShaftNotFound
    CalibrationError
        The card's pose cannot be found.
    """
    d = request.declared
    camera = request.camera(pixels.shape[1], pixels.shape[0])
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    card_view, guess = shaft_beside_card(pixels, camera, pose, d.diameter_mm, than is not None)
    if than is not None and not reaches_farther(guess, than):
        raise ShaftNotFound(Reason.NO_SHAFT, "no more of the shaft is seen in a longer view")
    unseen = np.zeros((0, 2))
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, unseen, unseen,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(guess.x_mm),
        unequal_share=request.unequal_share,
    )  # fmt: skip
    twin = partial(check_unambiguous, card_view, guess, d.diameter_mm)
    start, observations = with_bend_prior(
        initial_theta(pose, guess.x_mm, guess.slope, observations), observations
    )
    try:
        fit = _fit(pixels, start, with_aspect_prior(start, observations), guess)
    except ShaftNotFound:
        twin()
        raise
    fit = with_soft_edges(fit, pixels, sighting.blur_px)
    assert fit.frame is not None
    return _classified(pixels, guess, fit, fit.frame, request), twin


def by_network(seen: ShaftView, diameter_mm: float, network: str) -> ShaftView:
    """Classify the view along the shaft by another of `vision.networks.run.FIRST_PARTS`."""
    rows = sampled_rows(seen.view, ROWS_MULTIPLE)
    return replace(seen, classes=_classes(seen.view, seen.frame, rows, diameter_mm, network))


def seen_through_own_lens(
    pixels: np.ndarray, request: Request, seen: ShaftView, found: Solution | None
) -> ShaftView | None:
    """Look along the shaft anew where the photo shows another lens than the view was made with.

    In a view that was made with a false lens rims remain curves. Networks that know views of the true one draw them
    straighter, which makes them agree with the false lens, and see vaguely where they lie.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
    request : Request
    seen : ShaftView
    found : Solution or None
        With the rims of that view; None where they were not found.

    Returns
    -------
    ShaftView or None
        None where both lenses are the same, or the photo says too little of its own: what moves the focal length there
        is no perspective but a compromise of card and diameter.
    """
    found = found or seen.fit.solution
    moved = abs(np.log(found.camera.focal_px / seen.frame.camera.focal_px))
    own_sd = float(np.sqrt(found.covariance[LOGF, LOGF]))
    if moved < max(SAME_VIEW_FOCAL, own_sd):
        return None
    frame = ReaderFrame(found.cylinder, found.camera, seen.frame.s0_mm)
    return _classified(pixels, seen.guess, seen.fit, frame, request)


def _fit(pixels: np.ndarray, start: np.ndarray, observations: Observations, guess: ShaftGuess) -> ShaftFit:
    """Fit the shaft to its silhouettes, searched to either side of where it was detected."""
    low, high = _span_mm(guess)
    extent_mm = (low - BEYOND_SHAFT_MM, high + BEYOND_SHAFT_MM)
    fit = None
    for aside_u in ASIDE_U:
        theta = start.copy()
        theta[AX] += 0.5 * aside_u * observations.declared.diameter_mm
        fit = fit_shaft(pixels, theta, observations, 0.5 * (low + high), extent_mm)
        if fit is not None and not ran_away(fit):
            return fit
    if fit is None:
        raise ShaftNotFound(Reason.NO_SHAFT, "no bare shaft was found beside the card")
    raise ShaftNotFound(Reason.SHAFT_EDGES_UNCLEAR, "what was found of the shaft's edges fits no lens")


def _classified(
    pixels: np.ndarray, guess: ShaftGuess, fit: ShaftFit, frame: ReaderFrame, request: Request
) -> ShaftView:
    """Sample the view along the shaft, as far as it may show something, and classify it."""
    low, high = _span_mm(guess)
    count = round(view_length_mm(high - low, BEYOND_SHAFT_MM) / READER_STEP_MM)
    rows = rows_to_classify(frame, guess, request.layout, count)
    view = np.zeros((count, READER_COLUMNS, 3), np.uint8)
    view[slice(*rows)] = reader_view(pixels, frame, rows)
    classes = _classes(view, frame, rows, request.declared.diameter_mm, FIRST_PARTS[0])
    return ShaftView(guess, fit, frame, view, classes)


def _classes(
    view: np.ndarray, frame: ReaderFrame, rows: tuple[int, int], diameter_mm: float, network: str
) -> np.ndarray:
    """Classify some rows of the view along the shaft."""
    s_mm = np.asarray(frame.s_mm(np.arange(*rows)))
    found = part_probabilities(view[slice(*rows)], diameter_mm, s_mm, network)
    return over_view(found, rows, len(view))


def rows_to_classify(
    frame: ReaderFrame, guess: ShaftGuess, layout: Layout, count: int = READER_ROWS
) -> tuple[int, int]:
    """First row of the view along the shaft, of `count`, that must be classified, and the one after the last.

    For forks all rows beyond the far end are classified where the view is long enough: only its length distinguishes
    a gaiter from a clamp.
    """
    from_mm, to_mm = _span_mm(guess)
    low, high = (
        (s_mm - frame.s0_mm) / READER_STEP_MM for s_mm in (from_mm - BEYOND_SHAFT_MM, to_mm + BEYOND_SHAFT_MM)
    )
    beyond_mm = (count - high) * READER_STEP_MM + BEYOND_SHAFT_MM
    if layout is not Layout.SHOCK and beyond_mm > LONGEST_CLAMP_MM:
        high = count
    return rows_covering((low, high), count, ROWS_MULTIPLE)


def _span_mm(guess: ShaftGuess) -> tuple[float, float]:
    return guess.y_low_mm - S_ORIGIN_ON_CARD_MM, guess.y_high_mm - S_ORIGIN_ON_CARD_MM

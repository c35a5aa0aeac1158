"""The reading of one photo, from pixels to lengths: the order of the steps and what stops them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from calibration.camera import Camera
from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from calibration.pose import card_pose
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM, Observations, card_depth_sd_mm
from vision.adjustment.solve import Solution, initial_theta
from vision.geometry.views import (
    READER_COLUMNS,
    READER_ROWS,
    READER_STEP_MM,
    ReaderFrame,
    finder_view,
    reader_view,
    rows_covering,
)
from vision.lengths.lengths import lengths
from vision.networks.classes import Part
from vision.networks.run import ROWS_MULTIPLE, part_probabilities
from vision.read_by_hand import read_by_hand
from vision.reading import Layout, Note, Reading, Status
from vision.reasons import Reason
from vision.request import EDGE_POINTS_NEEDED, HandRims, Request, seen_card, with_geometry
from vision.rims.choose import LONGEST_CLAMP_MM, Choice, choose
from vision.rims.refine import RimRefiner
from vision.shaft.find import ShaftGuess, ShaftNotFound, check_unambiguous, find_shaft
from vision.shaft.fit import ShaftFit, fit_shaft
from vision.shaft.scale_check import exposure_fault, focal_factor, scale_check, scale_conflict, width_mismatch

# Corners that miss a flat card by more than this, mm on the card (root mean square): it is curled. Flat cards
# in sharp and blurred samples alike stay under 0.04 mm; a sagitta of 2 mm over the card's length gives 0.15.
FLATNESS_LIMIT_MM = 0.08
# A lens that distorts by more than this many times what phones' lenses do is none: a bent card looks so.
K1_LIMIT = 3.0
# How far beyond the exposed shaft the networks look, mm: where coils hide much of it the first look errs by a coil or
# two, and the networks want to see what follows (a bumper and its perch take some 30 mm). With 40 or 50 mm photos read
# as with the whole view; with 20 mm a third of the plain ones lost their edges.
BEYOND_SHAFT_MM = 40.0
# Where no edge of the shaft is seen it is looked for once more this far to either side, radii: between coils the first
# look is off by as much, and of a few rows that show an edge which are believed depends on where the view lies (one
# blurred photo was read in three of four orientations).
ASIDE_U = (0.0, 0.15, -0.15)


@dataclass(frozen=True)
class Trace:
    """What was seen on the way, for looking into a reading."""

    guess: ShaftGuess | None = None
    frame: ReaderFrame | None = None
    view: np.ndarray | None = None
    classes: np.ndarray | None = None
    fit: ShaftFit | None = None
    choice: Choice | None = None
    final: Solution | None = None


class _Refused(Exception):
    """Leaves the pipeline with a reason."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.note = Note(reason, None, detail)


def read(
    pixels: np.ndarray,
    request: Request,
    hand: HandRims | None = None,
    card: CardSighting | None = None,
) -> Reading:
    """Read one photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        RGB, whichever way up.
    request : Request
    hand : HandRims, optional
        Rims set by hand: the shaft and its rims are then not looked for.
    card : CardSighting, optional
        The card, where it was found in this photo already.

    Returns
    -------
    Reading
        Never raises for what the photo shows: what cannot be read is a reason in it.
    """
    sighting = card or seen_card(pixels)
    if isinstance(sighting, Reading):
        return sighting
    if hand is not None:
        return read_by_hand(pixels, request, hand, sighting)
    return _read(pixels, request, sighting)[0]


def read_traced(pixels: np.ndarray, request: Request) -> tuple[Reading, Trace]:
    """As `read`, with what was seen on the way."""
    sighting = seen_card(pixels)
    return (sighting, Trace()) if isinstance(sighting, Reading) else _read(pixels, request, sighting)


def _read(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Reading, Trace]:
    nothing = Reading(Status.REFUSED, card=sighting.number)
    known, trace = nothing, Trace()
    try:
        trace, twin = _look(pixels, request, sighting)
        with _beside(twin):
            assert trace.fit is not None
            known = with_geometry(known, trace.fit.solution, request)
            known = replace(known, scale=scale_check(trace.fit))
            _check(trace, request, sighting, known)
            assert trace.frame is not None and trace.classes is not None
            choice = choose(
                trace.classes,
                trace.frame,
                trace.fit.solution,
                request.layout,
                request.marker_width_mm,
                RimRefiner(pixels, trace.frame.cylinder, trace.frame.camera, request.declared.diameter_mm),
            )
            trace = replace(trace, choice=choice)
            if choice.refusal is not None:
                return replace(known, notes=(choice.refusal,)), trace
            assert trace.fit is not None
            reading, final = lengths(known, trace.fit, choice)
            return with_geometry(reading, final, request), replace(trace, final=final)
    except _Refused as e:
        return replace(known, notes=(e.note,)), trace
    except ShaftNotFound as e:
        return replace(nothing, notes=(Note(e.reason, None, e.message),)), trace
    except CalibrationError as e:
        return replace(known, notes=(Note(Reason.CARD_HIDDEN, None, e.message),)), trace


def _look(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Trace, Callable[[], None]]:
    """Card pose, shaft, view along it, silhouettes; and the question whether another shaft is as near."""
    d = request.declared
    camera = Camera.centred(request.focal_px, pixels.shape[1], pixels.shape[0])
    pose = card_pose(sighting, camera, d.print_along, d.print_across)
    card_view = finder_view(pixels, camera, pose)
    guess = find_shaft(card_view, d.diameter_mm)
    unseen = np.zeros((0, 2))
    observations = Observations(
        sighting, camera, request.focal_rel_sd, d, unseen, unseen,
        centre_sd_px=request.centre_sd_px, card_depth_sd_mm=card_depth_sd_mm(guess.x_mm),
    )  # fmt: skip
    low, high = (y - S_ORIGIN_ON_CARD_MM for y in (guess.y_low_mm, guess.y_high_mm))
    extent_mm = (low - BEYOND_SHAFT_MM, high + BEYOND_SHAFT_MM)
    twin = partial(check_unambiguous, card_view, guess, d.diameter_mm)
    fit = None
    for aside_u in ASIDE_U:
        x_mm = guess.x_mm + 0.5 * aside_u * d.diameter_mm
        theta = initial_theta(pose, x_mm, guess.slope, observations)
        fit = fit_shaft(pixels, theta, observations, 0.5 * (low + high), extent_mm)
        if fit is not None:
            break
    if fit is None:
        twin()
        raise _Refused(Reason.NO_SHAFT, "no bare shaft was seen beside the card")
    assert fit.frame is not None
    rows = _rows_in_question(fit.frame, guess, request.layout)
    view = np.zeros((READER_ROWS, READER_COLUMNS, 3), np.uint8)
    view[slice(*rows)] = reader_view(pixels, fit.frame, rows)
    classes = np.zeros((len(Part), READER_ROWS, READER_COLUMNS), np.float32)
    classes[Part.ELSE] = 1.0
    classes[:, slice(*rows)] = part_probabilities(view[slice(*rows)], d.diameter_mm)
    return Trace(guess=guess, frame=fit.frame, view=view, classes=classes, fit=fit), twin


@contextmanager
def _beside(check: Callable[[], None]) -> Iterator[None]:
    """Let a check run while something else is done, and raise what it raises, whatever else was raised meanwhile.

    Beside what keeps but one core busy it costs next to nothing: rims and lengths, not networks. Where OpenCV may use
    but one thread (one of several processes, each with its core) the check is done first.
    """
    import cv2

    if cv2.getNumThreads() == 1:
        check()
        yield
        return
    with ThreadPoolExecutor(1) as beside:
        checked = beside.submit(check)
        try:
            yield
        finally:
            checked.result()


def _rows_in_question(frame: ReaderFrame, guess: ShaftGuess, layout: Layout) -> tuple[int, int]:
    """First row of the reader view that has to be looked at, and the one after the last.

    Beside a fork or a foot all that follows is, where the view reaches far enough for it to tell: where a gaiter is
    taken for a clamp, its length does.
    """
    y_mm = (guess.y_low_mm - BEYOND_SHAFT_MM, guess.y_high_mm + BEYOND_SHAFT_MM)
    low, high = ((y - S_ORIGIN_ON_CARD_MM - frame.s0_mm) / READER_STEP_MM for y in y_mm)
    beyond_mm = (READER_ROWS - high) * READER_STEP_MM + BEYOND_SHAFT_MM
    if layout is not Layout.SHOCK and beyond_mm > LONGEST_CLAMP_MM:
        high = READER_ROWS
    return rows_covering((low, high), READER_ROWS, ROWS_MULTIPLE)


def _check(trace: Trace, request: Request, sighting: CardSighting, known: Reading) -> None:
    """Refuse where card, shaft and lens do not fit together."""
    assert trace.fit is not None and known.scale is not None
    solution = trace.fit.solution
    if solution.corner_rms_px / sighting.px_per_mm > FLATNESS_LIMIT_MM:
        off = solution.corner_rms_px / sighting.px_per_mm
        raise _Refused(Reason.CARD_NOT_FLAT, f"the card's corners miss a flat card by {off:.2f} mm")
    assert trace.view is not None and trace.classes is not None and trace.frame is not None
    light = exposure_fault(trace.view, trace.classes, trace.frame.u())
    if light is not None:
        raise _Refused(Reason.BADLY_LIT, light)
    if len(trace.fit.observations.left_px) + len(trace.fit.observations.right_px) < EDGE_POINTS_NEEDED:
        raise _Refused(Reason.SHAFT_EDGES_UNCLEAR, "too little of the shaft's edges can be seen")
    width = width_mismatch(trace.classes, trace.frame)
    if width is not None:
        raise _Refused(
            Reason.SCALE_CONFLICT, f"the shaft looks {width:.2f} times as wide as its diameter and edges say"
        )
    if abs(solution.camera.k1) > K1_LIMIT * trace.fit.observations.k1_sd:
        raise _Refused(
            Reason.CARD_NOT_FLAT,
            "the card's corners would fit a flat card only through a lens that bends lines",
        )
    factor = focal_factor(trace.fit)
    if factor is not None:
        raise _Refused(
            Reason.FOCAL_LENGTH_DOUBTFUL,
            f"card and shaft look as through a lens {factor:.2f} times as long as stated",
        )
    if scale_conflict(known.scale):
        raise _Refused(
            Reason.SCALE_CONFLICT,
            f"card and diameter agree only if the card lies {abs(known.scale.depth_gap_mm):.0f} mm "
            f"{'behind' if known.scale.depth_gap_mm < 0 else 'before'} the shaft's middle",
        )

"""Reading of one photo, from pixels to lengths: the order of the steps and the refusals between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from calibration.errors import CalibrationError
from calibration.find_card import CardSighting
from calibration.pose import card_pose
from vision.adjustment.aspect_mixture import with_aspect_prior
from vision.adjustment.bend_mixture import bend_remark, with_bend_prior
from vision.adjustment.observations import S_ORIGIN_ON_CARD_MM, Observations, card_depth_sd_mm
from vision.adjustment.parameters import AX
from vision.adjustment.solve import Solution, initial_theta
from vision.geometry.views import (
    READER_COLUMNS,
    READER_ROWS,
    READER_STEP_MM,
    ReaderFrame,
    reader_view,
    rows_covering,
    view_length_mm,
)
from vision.lengths.lengths import lengths, silhouettes
from vision.networks.classes import Part, PartMap
from vision.networks.run import ROWS_MULTIPLE, part_probabilities
from vision.read_by_hand import read_by_hand
from vision.reading import Layout, Note, Reading, Status
from vision.reasons import Reason
from vision.request import (
    EDGE_POINTS_NEEDED,
    HandMarks,
    Request,
    detect_card,
    placed_outline_px,
    with_geometry,
)
from vision.rims.band_colour import BandColour
from vision.rims.band_outline import BandOutline
from vision.rims.choose import Choice
from vision.rims.choose_by_both import choose_by_both
from vision.rims.evidence import Evidence
from vision.rims.far_end import LONGEST_CLAMP_MM
from vision.rims.orientation import LAID_RIGHT
from vision.rims.refine import RimRefiner
from vision.rims.second_opinion import SecondOpinion
from vision.rims.standing import standing_odds
from vision.shaft.beside_card import reaches_farther, shaft_beside_card
from vision.shaft.find import ShaftGuess, ShaftNotFound, check_unambiguous
from vision.shaft.fit import BEYOND_SHAFT_MM, ShaftFit, fit_shaft
from vision.shaft.own_focal import FOCAL_FACTOR_LIMIT, focal_factor, focal_remark, ran_away, with_own_focal
from vision.shaft.photo_lines import with_soft_edges
from vision.shaft.reconcile import only_vaguer, reconciled
from vision.shaft.scale_check import (
    depth_remark,
    depth_side,
    exposure_fault,
    scale_check,
    width_mismatch,
)
from vision.square_pixels import squeezed_remark, with_shape
from vision.stated import without_contradictions

# Residual of the corners against a flat or bent card, mm on the card (root mean square), from which it is neither.
# Flat cards stay under 0.04 mm in sharp and blurred samples; a bend of 2 mm taken for flat gives 0.15.
FLATNESS_LIMIT_MM = 0.08
# Distortion, in prior standard uncertainties, that no phone lens has: a bent card imitates it.
K1_LIMIT = 3.0
# Lateral offsets, radii, at which the silhouettes are searched until they are found: between coils the detection errs
# by as much (with 0 alone one blurred photo was read in three of four orientations).
ASIDE_U = (0.0, 0.15, -0.15)
# An end that is not seen may lie beyond the part of the shaft that was.
_END_HIDDEN = (Reason.SEAL_HIDDEN, Reason.FAR_END_HIDDEN)
BACKWARDS_REMARK = (
    "The card lies backwards: its arrow points away from the seal. It was read the other way round, by the looks of "
    "both ends: check on the overlay that the seal is the seal."
)


@dataclass(frozen=True)
class Trace:
    """Intermediate results, for inspecting a reading."""

    guess: ShaftGuess | None = None
    frame: ReaderFrame | None = None
    view: np.ndarray | None = None
    classes: np.ndarray | None = None
    fit: ShaftFit | None = None
    choice: Choice | None = None
    final: Solution | None = None


class _Refused(Exception):
    """Leave the pipeline with a reason."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.note = Note(reason, None, detail)


def read(
    pixels: np.ndarray,
    request: Request,
    hand: HandMarks | None = None,
    card: CardSighting | None = None,
) -> Reading:
    """Read one photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        RGB, in any orientation.
    request : Request
    hand : HandMarks, optional
        Rims set by hand: shaft and rims are then not searched.
    card : CardSighting, optional
        The card, if it has already been detected in this photo.

    Returns
    -------
    Reading
        Never raises for the photo's content: what cannot be read is a reason in it.
    """
    asked = _prepared(pixels, request, card)
    if isinstance(asked, Reading):
        return asked
    if hand is not None:
        return _with_remark(read_by_hand(pixels, asked[0], hand, asked[1]), asked[0])
    return _read(pixels, *asked)[0]


def read_traced(
    pixels: np.ndarray, request: Request, card: CardSighting | None = None
) -> tuple[Reading, Trace]:
    """Read as `read` does, and return the intermediate results."""
    asked = _prepared(pixels, request, card)
    return (asked, Trace()) if isinstance(asked, Reading) else _read(pixels, *asked)


def _prepared(
    pixels: np.ndarray, request: Request, card: CardSighting | None
) -> tuple[Request, CardSighting] | Reading:
    """Detect the card, and let it say what was done to the photo; a refused reading where either cannot be used."""
    sighting = card or detect_card(pixels)
    if isinstance(sighting, Reading):
        return sighting
    shaped = with_shape(pixels, request, sighting)
    return shaped if isinstance(shaped, Reading) else (shaped, sighting)


def _with_remark(reading: Reading, request: Request) -> Reading:
    remark = squeezed_remark(request)
    return replace(reading, remarks=(*reading.remarks, remark)) if remark else reading


def _read(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Reading, Trace]:
    reading, trace = _read_either_way(pixels, request, sighting)
    return _with_remark(reading, request), trace


def _read_either_way(pixels: np.ndarray, request: Request, sighting: CardSighting) -> tuple[Reading, Trace]:
    """Read the photo as the card's arrow says, or the other way round where the ends show that it lies backwards."""
    reading, trace = _read_one_way(pixels, request, sighting)
    if trace.guess is not None and any(note.reason in _END_HIDDEN for note in reading.notes):
        longer, longer_trace = _read_one_way(pixels, request, sighting, than=trace.guess)
        if longer.known > reading.known:
            return longer, longer_trace
    if reading.reason is not Reason.CARD_BACKWARDS:
        return reading, trace
    laid_right = trace.choice.laid_right if trace.choice is not None else None
    if laid_right is None or laid_right > 1 - LAID_RIGHT:
        return reading, trace
    other, other_trace = _read_one_way(pixels, request, sighting.turned_round(), turned=True)
    if other.status is Status.REFUSED:
        return reading, trace
    return replace(other, remarks=(*other.remarks, BACKWARDS_REMARK)), other_trace


def _read_one_way(
    pixels: np.ndarray,
    request: Request,
    sighting: CardSighting,
    turned: bool = False,
    than: ShaftGuess | None = None,
) -> tuple[Reading, Trace]:
    """Read the photo with the seal at the end of the card that its arrow, as seen, points to; `than` as in `_find`."""
    nothing = Reading(Status.REFUSED, card=sighting.number)
    known, trace = nothing, Trace()
    try:
        trace, twin = _find(pixels, request, sighting, than)
        with _in_parallel(twin) as twin_remarks:
            assert trace.fit is not None
            known = with_geometry(known, trace.fit.solution, request)
            fit, remarks = _with_focal_checked(trace.fit)
            trace, known = replace(trace, fit=fit), replace(known, remarks=remarks)
            assert trace.guess is not None
            low, high = (y - S_ORIGIN_ON_CARD_MM for y in (trace.guess.y_low_mm, trace.guess.y_high_mm))
            known = replace(known, shaft_edges_px=silhouettes(fit.solution, low, high))
            scale = scale_check(fit)
            known = replace(known, scale=scale)
            _check(trace, request, sighting, known)
            trace = replace(trace, fit=reconciled(fit, scale))
            said = (bend_remark(fit.solution), depth_remark(scale))
            known = replace(known, remarks=(*known.remarks, *(remark for remark in said if remark)))
            assert trace.frame is not None and trace.classes is not None
            refiner = RimRefiner(
                pixels, trace.frame.cylinder, trace.frame.camera, request.declared.diameter_mm
            )
            parts = PartMap(trace.classes, trace.frame)
            assert trace.view is not None
            assert known.card_outline_px is not None
            second = SecondOpinion(
                trace.view, trace.frame, request.declared.diameter_mm, known.card_outline_px
            )
            colour = BandColour(trace.view, request.marker_color) if request.marker_color else None
            standing = standing_odds(request.layout, trace.frame.cylinder, request.quarter_turns)
            outline = BandOutline(pixels, trace.frame)
            evidence = Evidence(colour, request.stated, standing, outline)
            choice = choose_by_both(parts, request.layout, request.marker_width_mm, refiner, second, evidence)
            trace = replace(trace, choice=choice)
            reading = replace(known, notes=(choice.refusal,) if choice.refusal else ())
            if choice.refusal is None:
                assert trace.fit is not None
                reading, final = lengths(known, trace.fit, choice)
                if request.stated is not None:
                    reading = without_contradictions(reading, request.stated)
                reading, trace = with_geometry(reading, final, request), replace(trace, final=final)
        return replace(reading, remarks=(*reading.remarks, *twin_remarks)), trace
    except _Refused as e:
        if known.card_outline_px is None:
            known = replace(known, card_outline_px=placed_outline_px(pixels, request, sighting))
        return replace(known, notes=(e.note,)), trace
    except ShaftNotFound as e:
        where = placed_outline_px(pixels, request, sighting)
        return replace(nothing, notes=(Note(e.reason, None, e.message),), card_outline_px=where), trace
    except CalibrationError as e:
        return replace(known, notes=(Note(Reason.CARD_HIDDEN, None, e.message),)), trace


def _find(
    pixels: np.ndarray, request: Request, sighting: CardSighting, than: ShaftGuess | None = None
) -> tuple[Trace, Callable[[], str | None]]:
    """Find card pose, shaft, silhouettes and part classes; return them with the check for a second shaft.

    With `than`, in a longer view than this was found in, and only if it shows more of the shaft.
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
    low, high = (y - S_ORIGIN_ON_CARD_MM for y in (guess.y_low_mm, guess.y_high_mm))
    extent_mm = (low - BEYOND_SHAFT_MM, high + BEYOND_SHAFT_MM)
    twin = partial(check_unambiguous, card_view, guess, d.diameter_mm)
    start, observations = with_bend_prior(
        initial_theta(pose, guess.x_mm, guess.slope, observations), observations
    )
    observations = with_aspect_prior(start, observations)
    fit = None
    for aside_u in ASIDE_U:
        theta = start.copy()
        theta[AX] += 0.5 * aside_u * d.diameter_mm
        fit = fit_shaft(pixels, theta, observations, 0.5 * (low + high), extent_mm)
        if fit is not None and not ran_away(fit):
            break
    if fit is None:
        twin()
        raise _Refused(Reason.NO_SHAFT, "no bare shaft was found beside the card")
    if ran_away(fit):
        twin()
        raise _Refused(Reason.SHAFT_EDGES_UNCLEAR, "what was found of the shaft's edges fits no lens")
    fit = with_soft_edges(fit, pixels, sighting.blur_px)
    assert fit.frame is not None
    count = round(view_length_mm(high - low, BEYOND_SHAFT_MM) / READER_STEP_MM)
    rows = _rows_to_classify(fit.frame, guess, request.layout, count)
    view = np.zeros((count, READER_COLUMNS, 3), np.uint8)
    view[slice(*rows)] = reader_view(pixels, fit.frame, rows)
    classes = np.zeros((len(Part), count, READER_COLUMNS), np.float32)
    classes[Part.ELSE] = 1.0
    s_mm = np.asarray(fit.frame.s_mm(np.arange(*rows)))
    classes[:, slice(*rows)] = part_probabilities(view[slice(*rows)], d.diameter_mm, s_mm)
    return Trace(guess=guess, frame=fit.frame, view=view, classes=classes, fit=fit), twin


@contextmanager
def _in_parallel(check: Callable[[], str | None]) -> Iterator[list[str]]:
    """Run a check in parallel with the body, and raise its error in preference to the body's.

    Its remark, where it has one, is in the list once the body has ended.

    The body should occupy one core only: rims and lengths, not networks. Where OpenCV may use only one thread (one of
    several processes, each on its core) the check runs first.
    """
    import cv2

    remarks: list[str] = []
    if cv2.getNumThreads() == 1:
        remarks += filter(None, [check()])
        yield remarks
        return
    with ThreadPoolExecutor(1) as pool:
        checked = pool.submit(check)
        try:
            yield remarks
        finally:
            remarks += filter(None, [checked.result()])


def _rows_to_classify(
    frame: ReaderFrame, guess: ShaftGuess, layout: Layout, count: int = READER_ROWS
) -> tuple[int, int]:
    """First row of the view along the shaft, of `count`, that must be classified, and the one after the last.

    For forks all rows beyond the far end are classified where the view is long enough: only its length distinguishes
    a gaiter from a clamp.
    """
    y_mm = (guess.y_low_mm - BEYOND_SHAFT_MM, guess.y_high_mm + BEYOND_SHAFT_MM)
    low, high = ((y - S_ORIGIN_ON_CARD_MM - frame.s0_mm) / READER_STEP_MM for y in y_mm)
    beyond_mm = (count - high) * READER_STEP_MM + BEYOND_SHAFT_MM
    if layout is not Layout.SHOCK and beyond_mm > LONGEST_CLAMP_MM:
        high = count
    return rows_covering((low, high), count, ROWS_MULTIPLE)


def _check(trace: Trace, request: Request, sighting: CardSighting, known: Reading) -> None:
    """Refuse where card, shaft and lens contradict each other."""
    assert trace.fit is not None and known.scale is not None
    solution = trace.fit.solution
    _check_flatness(solution, sighting)
    assert trace.view is not None and trace.classes is not None and trace.frame is not None
    parts = PartMap(trace.classes, trace.frame)
    light = exposure_fault(trace.view, parts)
    if light is not None:
        raise _Refused(Reason.BADLY_LIT, light)
    if len(trace.fit.observations.left_px) + len(trace.fit.observations.right_px) < EDGE_POINTS_NEEDED:
        raise _Refused(Reason.SHAFT_EDGES_UNCLEAR, "too little of the shaft's edges is visible")
    width = width_mismatch(parts)
    if width is not None:
        raise _Refused(
            Reason.SCALE_CONFLICT,
            f"the shaft appears {width:.2f} times as wide as its diameter and edges give",
        )
    if abs(solution.camera.k1) > K1_LIMIT * trace.fit.observations.k1_sd:
        raise _Refused(
            Reason.CARD_NOT_FLAT,
            "the card's corners would fit a flat card only with a strongly distorting lens",
        )
    if reconciled(trace.fit, known.scale) is None:
        raise _Refused(
            Reason.SCALE_CONFLICT,
            f"card and diameter agree only if the card lies {abs(known.scale.depth_gap_mm):.0f} mm "
            f"{depth_side(known.scale)} the shaft's centre line",
        )


def _check_flatness(solution: Solution, sighting: CardSighting) -> None:
    off = solution.corner_rms_px / sighting.px_per_mm
    if off > FLATNESS_LIMIT_MM:
        raise _Refused(Reason.CARD_NOT_FLAT, f"the card's corners deviate from a flat card by {off:.2f} mm")


def _with_focal_checked(fit: ShaftFit) -> tuple[ShaftFit, tuple[str, ...]]:
    """Take the focal length that the photo shows where it contradicts the one stated; return the fit and remarks."""
    factor = focal_factor(fit)
    if factor is None:
        return fit, ()
    if not 1 / FOCAL_FACTOR_LIMIT < factor < FOCAL_FACTOR_LIMIT:
        # A card that no focal length makes flat is the cause, and the focal length only what it bends.
        _check_flatness(with_own_focal(fit, factor).solution, fit.observations.sighting)
        raise _Refused(
            Reason.FOCAL_LENGTH_DOUBTFUL,
            f"card and shaft appear as through a lens of {factor:.2f} times the declared focal length",
        )
    own = with_own_focal(fit, factor)
    if only_vaguer(fit, own):
        raise _Refused(Reason.SCALE_CONFLICT, "card and diameter contradict each other with any focal length")
    return own, (focal_remark(factor),)
